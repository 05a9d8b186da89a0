package geodesy

// methodText is what well-known texts call a projection method.
type methodText struct {
	name, gdal, esri string
	epsg             int
	params           []paramText // in the order of newProjection
	esriOrder        []string
}

// paramText is what they call a parameter.
type paramText struct {
	name, gdal, esri string
	epsg             int
	kind             paramKind
}

// index gives the parameter of a name in Esri's dialect.
func (m methodText) index(esri string) int {
	for i, p := range m.params {
		if p.esri == esri {
			return i
		}
	}
	// The one-parallel cone is told by its origin as the parallel too.
	return 0
}

type paramKind int

const (
	angleParam paramKind = iota
	scaleParam
	lengthParam
)

// unit gives the text of a parameter's unit.
func (k paramKind) unit(u Unit) string {
	switch k {
	case scaleParam:
		return `SCALEUNIT["unity",1]`
	case lengthParam:
		return lengthUnit(u)
	}
	return angleUnit
}

var (
	originLat     = paramText{"Latitude of natural origin", "latitude_of_origin", "Latitude_Of_Origin", 8801, angleParam}
	originLon     = paramText{"Longitude of natural origin", "central_meridian", "Central_Meridian", 8802, angleParam}
	originScale   = paramText{"Scale factor at natural origin", "scale_factor", "Scale_Factor", 8805, scaleParam}
	falseEasting  = paramText{"False easting", "false_easting", "False_Easting", 8806, lengthParam}
	falseNorthing = paramText{"False northing", "false_northing", "False_Northing", 8807, lengthParam}

	natural = []paramText{originLat, originLon, originScale, falseEasting, falseNorthing}

	falseOrigin = []paramText{
		{"Latitude of false origin", "latitude_of_origin", "Latitude_Of_Origin", 8821, angleParam},
		{"Longitude of false origin", "central_meridian", "Central_Meridian", 8822, angleParam},
		{"Latitude of 1st standard parallel", "standard_parallel_1", "Standard_Parallel_1", 8823, angleParam},
		{"Latitude of 2nd standard parallel", "standard_parallel_2", "Standard_Parallel_2", 8824, angleParam},
		{"Easting at false origin", "false_easting", "False_Easting", 8826, lengthParam},
		{"Northing at false origin", "false_northing", "False_Northing", 8827, lengthParam},
	}

	centre = []paramText{
		{"Latitude of projection centre", "latitude_of_center", "Latitude_Of_Center", 8811, angleParam},
		{"Longitude of projection centre", "longitude_of_center", "Longitude_Of_Center", 8812, angleParam},
		{"Azimuth of initial line", "azimuth", "Azimuth", 8813, angleParam},
		{"Angle from Rectified to Skew Grid", "rectified_grid_angle", "", 8814, angleParam},
		{"Scale factor on initial line", "scale_factor", "Scale_Factor", 8815, scaleParam},
	}
	variantA = append(centre[:5:5], falseEasting, falseNorthing)
	variantB = append(centre[:5:5],
		paramText{"Easting at projection centre", "false_easting", "False_Easting", 8816, lengthParam},
		paramText{"Northing at projection centre", "false_northing", "False_Northing", 8817, lengthParam})

	naturalOrder = []string{"False_Easting", "False_Northing", "Central_Meridian", "Scale_Factor", "Latitude_Of_Origin"}
	centreOrder  = []string{"False_Easting", "False_Northing", "Scale_Factor", "Azimuth", "Longitude_Of_Center", "Latitude_Of_Center"}
)

// methodTexts is keyed by the method's name in the table. Names: IOGP Guidance
// Note 7-2, and what PROJ 9.1.1 writes in the two older dialects.
var methodTexts = map[string]methodText{
	"tm": {"Transverse Mercator", "Transverse_Mercator", "Transverse_Mercator", 9807, natural, naturalOrder},
	"lcc1": {"Lambert Conic Conformal (1SP)", "Lambert_Conformal_Conic_1SP", "Lambert_Conformal_Conic", 9801, natural,
		[]string{"False_Easting", "False_Northing", "Central_Meridian", "Standard_Parallel_1", "Scale_Factor", "Latitude_Of_Origin"}},
	"lcc2": {"Lambert Conic Conformal (2SP)", "Lambert_Conformal_Conic_2SP", "Lambert_Conformal_Conic", 9802, falseOrigin,
		[]string{"False_Easting", "False_Northing", "Central_Meridian", "Standard_Parallel_1", "Standard_Parallel_2", "Latitude_Of_Origin"}},
	"homA":   {"Hotine Oblique Mercator (variant A)", "Hotine_Oblique_Mercator", "Hotine_Oblique_Mercator_Azimuth_Natural_Origin", 9812, variantA, centreOrder},
	"homB":   {"Hotine Oblique Mercator (variant B)", "Hotine_Oblique_Mercator_Azimuth_Center", "Hotine_Oblique_Mercator_Azimuth_Center", 9815, variantB, centreOrder},
	"swiss":  {"Hotine Oblique Mercator (variant B)", "Hotine_Oblique_Mercator_Azimuth_Center", "Hotine_Oblique_Mercator_Azimuth_Center", 9815, variantB, centreOrder},
	"sterea": {"Oblique Stereographic", "Oblique_Stereographic", "Double_Stereographic", 9809, natural, naturalOrder},
}
