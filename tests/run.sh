#!/bin/sh
# Sets up the project in .venv and runs every check:   sh tests/run.sh [pytest arguments]
# Format, lint, types, tests, notebooks, browser. Under CI a skipped browser or notebook test fails.
set -e
cd "$(dirname "$0")/.."
EXTRA=all
. .ci/setup
[ -x /usr/bin/chromium ] || debian_install chromium || [ -z "$CI" ]
.venv/bin/ruff format --check linkage tests
.venv/bin/ruff check linkage tests
.venv/bin/mypy linkage
exec .venv/bin/pytest -n 2 --dist loadfile "$@"
