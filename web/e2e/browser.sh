#!/bin/sh
# Sees to it that there is a browser for the page tests: CHROMIUM where it is set, else one on the PATH, else
# Debian's package where this user may install it.
set -eu
[ -n "${CHROMIUM:-}" ] && [ -x "$CHROMIUM" ] && exit 0
for name in chromium chromium-browser google-chrome; do
  command -v "$name" >/dev/null 2>&1 && exit 0
done
if command -v apt-get >/dev/null 2>&1; then
  as_root=""
  [ "$(id -u)" = 0 ] || as_root="sudo -n"
  echo "The page tests need Chromium; installing Debian's package."
  $as_root apt-get update -qq && $as_root apt-get install -y -qq --no-install-recommends chromium && exit 0
fi
echo "The page tests need a Chromium or Chrome browser. Install one, or name it: make test CHROMIUM=/path/to/chrome" >&2
exit 1
