#!/bin/sh
# Sets up the project in .venv and runs the flagship demo:   sh demo/run.sh [FOLDER]
set -e
cd "$(dirname "$0")/.."
EXTRA=
. .ci/setup
exec .venv/bin/throttle-linkage demo "${1:-demo-out}"
