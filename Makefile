# wayfall: everything is made from this file. `make demo` to look, `make test` to judge.

GO      ?= go
TAGS    :=
DEMO    ?= demo-data
ADDR    ?= 127.0.0.1:8470
DIST    := server/web/dist
WASM    := $(DIST)/field/phone.wasm
PHONE   := $(shell find geo permits sync cmd/phone -name '*.go' -not -name '*_test.go' 2>/dev/null)
PAGES   := $(shell find server/web/app server/web/desk cmd/assets fixtures -type f 2>/dev/null)

.PHONY: build demo demo-reset test bench fuzz soak needs clean

build: bin/wayfall

node_modules/.made: package.json package-lock.json
	npm ci --no-audit --no-fund --ignore-scripts
	@touch $@

$(WASM): $(PHONE) go.mod
	@mkdir -p $(DIST)/field
	GOOS=js GOARCH=wasm $(GO) build -trimpath -ldflags='-s -w' -o $@ ./cmd/phone

$(DIST)/.made: $(WASM) node_modules/.made $(PAGES)
	$(GO) run ./cmd/assets
	@touch $@

bin/wayfall: $(DIST)/.made $(shell find . -name '*.go' -not -path './node_modules/*' 2>/dev/null) go.mod
	$(GO) build -trimpath -o $@ ./cmd/wayfall

demo: build
	bin/wayfall demo --folder $(DEMO) --listen $(ADDR)

demo-reset:
	rm -rf $(DEMO)

needs:
	@sh cmd/check/needs.sh

test: needs build
	@sh cmd/check/test.sh

bench: build
	$(GO) run ./cmd/bench

fuzz: build
	@sh cmd/check/fuzz.sh

soak: build
	@sh cmd/check/needs.sh Rscript:r-bioc-genomeinfodbdata
	$(GO) test -count=1 -timeout 100m -run TestNoScheduleBreaksAPromise -v ./sync/simulate -args -schedules 1000000
	WAYFALL_SOAK=1 $(GO) test -tags soak -count=1 -timeout 60m ./sync/... ./geo/... ./permits/... ./server/...

clean:
	rm -rf bin $(DIST)/field $(DIST)/desk $(DIST)/*.bin $(DIST)/.made $(DIST)/credits.txt node_modules
