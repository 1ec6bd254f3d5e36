#!/bin/sh
# Installs what the tests need from Debian where that is possible, and
# otherwise names in one line what is missing. Nothing is skipped. Further
# pairs of program and package come as arguments.
set -eu
pairs="chromium:chromium GeodSolve:geographiclib-tools xmllint:libxml2-utils qpdf:qpdf pdftotext:poppler-utils cs2cs:proj-bin pg_ctlcluster:postgresql $*"
lacking() {
  missing=""
  for pair in $pairs "$@"; do
    command -v "${pair%%:*}" >/dev/null 2>&1 || missing="$missing ${pair##*:}"
  done
}
lacking
if [ -n "$missing" ] && [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; then
  echo "installing$missing"
  export DEBIAN_FRONTEND=noninteractive
  { apt-get update && apt-get install -y --no-install-recommends $missing; } >"${TMPDIR:-/tmp}/wayfall-needs.log" 2>&1 ||
    { tail -n 20 "${TMPDIR:-/tmp}/wayfall-needs.log" >&2; }
fi
lacking go:golang gcc:gcc node:nodejs npm:npm
if [ -n "$missing" ]; then
  echo "make test needs these Debian packages:$missing" >&2
  exit 1
fi
