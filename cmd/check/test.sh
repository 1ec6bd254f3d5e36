#!/bin/sh
# Everything that must hold, in the order in which a fault is cheapest to find.
set -eu
say() { printf '== %s\n' "$1"; }

say "gofmt"
unclean=$(git ls-files '*.go' | xargs gofmt -l)
[ -z "$unclean" ] || { echo "not gofmt-clean: $unclean"; exit 1; }
say "vet, both targets"
go vet ./...
GOOS=js GOARCH=wasm go vet ./cmd/phone
say "staticcheck"
go tool staticcheck ./...
say "types of the field page"
npm run --silent check
say "floors"
go run ./cmd/check floors
say "tests, with the race detector"
status=$(mktemp)
{ go test -race -timeout 14m -json ./... || echo failed >"$status"; } | go run ./cmd/check tally
[ ! -s "$status" ]
