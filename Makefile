# Everything starts here. `make run` builds the program and opens the demo season; `make test` checks it all.
# Only Go, Node and make are presumed; a browser for the page tests is installed where the system allows it.

GO      ?= go
# One set of flags, so that what is built, vetted and tested is compiled once.
export CGO_ENABLED := 0
export GOFLAGS     := $(strip $(shell $(GO) env GOFLAGS) -trimpath)

PAGE    := web/dist/index.html
SOURCES := $(shell find web/src web/public -type f) $(wildcard web/*.html web/*.ts web/*.json)

.PHONY: run build page test test-go test-page test-browser browser vet bench kills fuzz clean

run: build
	bin/tossline

build: $(PAGE)
	$(GO) build -o bin/tossline ./workbench

page: $(PAGE)

$(PAGE): web/node_modules/.package-lock.json $(SOURCES)
	cd web && npm run build

web/node_modules/.package-lock.json: web/package-lock.json
	cd web && npm ci --no-audit --no-fund
	@touch $@

test: vet test-page test-go test-browser

vet:
	@unformatted=$$(gofmt -l $$(git ls-files '*.go')); \
	  if [ -n "$$unformatted" ]; then echo "not gofmt-ed: $$unformatted"; exit 1; fi
	$(GO) vet ./...

# The race detector, which wants a C compiler, looks at what runs side by side; -short leaves out what only computes.
SHARED := ./datasets/catalogue ./datasets/delimited ./datasets/demo ./datasets/recording ./datasets/season \
  ./kernel/engine/... ./kernel/interp ./kernel/interp/language ./kernel/motion ./workbench/server ./workbench/supervisor

# The page is built first: what is embedded is tested, and the tests see the same in a fresh clone as later.
test-go: $(PAGE)
	$(GO) test ./...
	@if command -v $$($(GO) env CC) >/dev/null; then \
	  echo "$(GO) test -race -short $(SHARED)"; CGO_ENABLED=1 $(GO) test -race -short $(SHARED); \
	else echo "no C compiler: the race detector is left out"; fi

test-page: $(PAGE)
	cd web && npm run check && npm test

test-browser: build browser
	cd web && npm run e2e

browser:
	@sh web/e2e/browser.sh

# Ratios against the compiled and the outside peers, and how long a reader of the page waits; half an hour.
bench: build browser
	$(GO) test -run '^$$' -bench . -benchmem ./kernel/... ./datasets/... ./recipes/... ./workbench/...
	cd web && npm run bench

# Kills at random moments, many more than the tests do; half an hour.
kills:
	SEASON_TEST_KILLS=500 TOSSLINE_TEST_KILLS=60 $(GO) test -timeout 60m -run Killed ./datasets/season ./workbench/command

# Each fuzz target for FUZZTIME (go test runs one target of one package at a time), then damaged files through the
# fence.
FUZZTIME ?= 30s
fuzz:
	@$(GO) list ./... | while read package; do \
	  for target in $$($(GO) test -list '^Fuzz' $$package | grep '^Fuzz'); do \
	    echo "$$package $$target"; $(GO) test -run '^$$' -fuzz "^$$target$$" -fuzztime $(FUZZTIME) $$package || exit 1; \
	  done; done
	TOSSLINE_TEST_MUTANTS=10000 TOSSLINE_TEST_SEED=$$$$ $(GO) test -timeout 60m -run Mutants ./workbench/command

clean:
	rm -rf bin web/dist/assets $(PAGE) web/node_modules
