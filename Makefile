# make test    everything that is checked, after installing what the checks need
# make demo    the invented day, converted into demo-map/
# make build   the program, bin/tracemap
# make bench   speed and memory of each stretch
# make speed   of the whole program, against wc and a script, and how they grow (docs/speed.md)
# make accuracy  how true the widths are, on many invented days (minutes)
# make release archives of six systems with sums, in dist/; make release-check checks them
# make sbom    the bill of materials of this system's program
# make vuln    known weaknesses of what is linked in (asks vuln.go.dev)
# make picture the pictures in the README and docs/
GO ?= go
FUZZTIME ?= 4000x
# Packages in which goroutines work side by side; RACE=./... for all, a quarter of an hour.
RACE = ./nmea/... ./fuse/track ./fuse/clock ./export/... ./compare ./internal/survey/... ./internal/outdir/... ./internal/record/... ./internal/store/... ./web

.PHONY: release release-check sbom vuln test tools fmt vet staticcheck unit race fuzz demo build bench speed accuracy picture

test: tools fmt vet staticcheck unit race fuzz
	@echo "make test: all passed"

tools:
	@bash .ci/tools

fmt:
	@out=$$(gofmt -l .); if [ -n "$$out" ]; then echo "not gofmt-ed:"; echo "$$out"; exit 1; fi

vet:
	$(GO) vet ./...

staticcheck:
	$(GO) tool -modfile=tools/go.mod staticcheck ./...

unit:
	$(GO) test ./...

race:
	$(GO) test -race -short $(RACE)

fuzz:
	@GO=$(GO) bash .ci/fuzz $(FUZZTIME)

demo:
	$(GO) run ./cmd/tracemap convert testdata/demo/day.nmea testdata/demo/readings.csv -o demo-map --overwrite

picture:
	@GO=$(GO) bash .ci/picture

build:
	$(GO) build -trimpath -ldflags '-s -w' -o bin/tracemap ./cmd/tracemap

bench:
	$(GO) test -run '^$$' -bench . -benchmem ./...

# SPEED='-grow 100 -batch 100' measures how time and memory grow, for some minutes.
speed:
	$(GO) run ./internal/lab/speed $(SPEED)

# docs/accuracy.md explains the table. SEEDS=5 for a quick look, which is not saved.
SEEDS ?= 20
accuracy:
	$(GO) run ./internal/lab/accuracy -seeds $(SEEDS) -against docs/accuracy-table.txt $(if $(filter 20,$(SEEDS)),-o docs/accuracy-table.txt)

# Minutes, and much longer when nothing is in the build cache.
DIST ?= dist
TARGETS ?=
release:
	$(GO) run ./internal/lab/release -o $(DIST) -targets '$(TARGETS)'

release-check:
	@GO=$(GO) TARGETS='$(TARGETS)' bash .ci/release-check $(DIST)

sbom:
	@mkdir -p bin
	$(GO) run ./internal/lab/release -sbom bin/tracemap.cdx.json

vuln:
	$(GO) tool -modfile=tools/go.mod govulncheck ./...
