#!/bin/sh
# Installs what the tests need from Debian where that is possible, and
# otherwise names in one line what is missing. Nothing is skipped.
set -eu
missing=""
for pair in chromium:chromium GeodSolve:geographiclib-tools xmllint:libxml2-utils; do
  command -v "${pair%%:*}" >/dev/null 2>&1 || missing="$missing ${pair##*:}"
done
if [ -n "$missing" ] && [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; then
  echo "installing$missing"
  export DEBIAN_FRONTEND=noninteractive
  { apt-get update && apt-get install -y --no-install-recommends $missing; } >"${TMPDIR:-/tmp}/wayfall-needs.log" 2>&1 ||
    { tail -n 20 "${TMPDIR:-/tmp}/wayfall-needs.log" >&2; }
fi
missing=""
for pair in go:golang gcc:gcc node:nodejs npm:npm chromium:chromium GeodSolve:geographiclib-tools xmllint:libxml2-utils; do
  command -v "${pair%%:*}" >/dev/null 2>&1 || missing="$missing ${pair##*:}"
done
if [ -n "$missing" ]; then
  echo "make test needs these Debian packages:$missing" >&2
  exit 1
fi
