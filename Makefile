# Everything starts here. `make run` builds the program and opens the demo season; `make test` checks it all.
# Only Go, Node and make are presumed; a browser for the page tests is installed where the system allows it.

GO      ?= go
PAGE    := web/dist/index.html
SOURCES := $(shell find web/src web/public -type f) $(wildcard web/*.html web/*.ts web/*.json)

.PHONY: run build page test test-go test-page test-browser browser vet bench kills fuzz clean

run: build
	bin/tossline

build: $(PAGE)
	CGO_ENABLED=0 $(GO) build -trimpath -o bin/tossline ./workbench

page: $(PAGE)

$(PAGE): web/node_modules/.package-lock.json $(SOURCES)
	cd web && npm run build

web/node_modules/.package-lock.json: web/package-lock.json
	cd web && npm ci --no-audit --no-fund
	@touch $@

test: vet test-go test-page test-browser

vet:
	@unformatted=$$(gofmt -l $$(git ls-files '*.go')); \
	  if [ -n "$$unformatted" ]; then echo "not gofmt-ed: $$unformatted"; exit 1; fi
	$(GO) vet ./...

test-go:
	$(GO) test -race ./...

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

# Each fuzz target for FUZZTIME (go test runs one target of one package at a time).
FUZZTIME ?= 30s
fuzz:
	@$(GO) list ./... | while read package; do \
	  for target in $$($(GO) test -list '^Fuzz' $$package | grep '^Fuzz'); do \
	    echo "$$package $$target"; $(GO) test -run '^$$' -fuzz "^$$target$$" -fuzztime $(FUZZTIME) $$package || exit 1; \
	  done; done

clean:
	rm -rf bin web/dist/assets $(PAGE) web/node_modules
