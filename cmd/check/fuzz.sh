#!/bin/sh
# Runs every fuzz target for FUZZTIME each (30 s unless told).
set -eu
for file in $(git ls-files '*_test.go' | xargs grep -l '^func Fuzz'); do
  folder=./$(dirname "$file")
  for name in $(sed -n 's/^func \(Fuzz[A-Za-z0-9_]*\)(.*/\1/p' "$file"); do
    echo "== $folder $name"
    go test -run '^$' -fuzz "^$name\$" -fuzztime "${FUZZTIME:-30s}" "$folder"
  done
done
