package web

import "net/http"

// A route is a row of the table of what the interface can do. openapi.json
// describes each; a test holds the two together.
type route struct {
	method, path string
	needs        right
	body         int64 // most bytes of the request's body; 0 for none, -1 for an upload
	handle       func(*Server, *http.Request, http.ResponseWriter) error
}

const (
	tinyBody  = 8 << 10 // a name and a password
	smallBody = 4 << 20 // a correction of some ten thousand readings
)

var routes = []route{
	{"GET", "/api/v1/session", toSee, 0, (*Server).getSession},
	{"GET", "/api/v1/openapi.json", toSee, 0, (*Server).getOpenAPI},
	{"GET", "/api/v1/originals", toSee, 0, (*Server).getOriginals},
	{"POST", "/api/v1/originals", toUpload, -1, (*Server).postOriginal},
	{"GET", "/api/v1/originals/{sha256}", toSee, 0, (*Server).getOriginal},
	{"POST", "/api/v1/proposals", toUpload, smallBody, (*Server).postProposals},
	{"GET", "/api/v1/days", toSee, 0, (*Server).getDays},
	{"POST", "/api/v1/days", toUpload, smallBody, (*Server).postDay},
	{"GET", "/api/v1/days/{day}", toSee, 0, (*Server).getDay},
	{"GET", "/api/v1/days/{day}/revisions", toSee, 0, (*Server).getRevisions},
	{"POST", "/api/v1/days/{day}/revisions", toCorrect, smallBody, (*Server).postRevision},
	{"GET", "/api/v1/days/{day}/revisions/{revision}", toSee, 0, (*Server).getRevision},
	{"GET", "/api/v1/days/{day}/revisions/{revision}/view", toSee, 0, (*Server).getView},
	{"GET", "/api/v1/days/{day}/revisions/{revision}/difference", toSee, 0, (*Server).getDifference},
	{"GET", "/api/v1/geopackage", toSee, 0, (*Server).getGeoPackage},
	{"GET", "/api/v1/checks", toSee, 0, (*Server).getChecks},
	{"POST", "/api/v1/days/{day}/revisions/{revision}/handover", toHandOver, smallBody, (*Server).postHandover},
	{"GET", "/api/v1/days/{day}/revisions/{revision}/sheet", toSee, 0, (*Server).getSheet},
	{"DELETE", "/api/v1/days/{day}/revisions/{revision}/work", toUpload, 0, (*Server).deleteWork},
	{"GET", "/api/v1/days/{day}/revisions/{revision}/files", toSee, 0, (*Server).getFiles},
	{"GET", "/api/v1/days/{day}/revisions/{revision}/files/{name}", toSee, 0, (*Server).getFile},
	{"GET", "/api/v1/days/{day}/revisions/{revision}/export", toSee, 0, (*Server).getExport},
	{"POST", "/api/v1/records", toCompare, -1, (*Server).postOriginal},
	{"GET", "/api/v1/days/{day}/comparisons", toSee, 0, (*Server).getComparisons},
	{"POST", "/api/v1/days/{day}/revisions/{revision}/comparisons", toCompare, smallBody, (*Server).postComparison},
	{"GET", "/api/v1/comparisons/{comparison}", toSee, 0, (*Server).getComparison},
	{"GET", "/api/v1/comparisons/{comparison}/files/{name}", toSee, 0, (*Server).getComparisonFile},
	{"GET", "/api/v1/work", toSee, 0, (*Server).getWork},
	{"GET", "/api/v1/door", toEnter, 0, (*Server).getDoor},
	{"POST", "/api/v1/login", toEnter, tinyBody, (*Server).postLogin},
	{"POST", "/api/v1/logout", toSee, 0, (*Server).postLogout},
	{"PUT", "/api/v1/session/password", toSee, tinyBody, (*Server).putPassword},
	{"GET", "/api/v1/accounts", toAdminister, 0, (*Server).getAccounts},
	{"POST", "/api/v1/accounts", toAdminister, tinyBody, (*Server).postAccount},
	{"PATCH", "/api/v1/accounts/{name}", toAdminister, tinyBody, (*Server).patchAccount},
	{"GET", "/api/v1/basemap", toSee, 0, (*Server).getBaseMap},
	{"GET", "/api/v1/basemap/{z}/{x}/{y}", toSee, 0, (*Server).getTile},
	{"GET", "/api/v1/audit", toAdminister, 0, (*Server).getAudit},
}
