#!/bin/sh
# Sets up the project in .venv and opens JupyterLab on the first notebook:   sh notebooks/run.sh [options of jupyter lab]
set -e
cd "$(dirname "$0")/.."
EXTRA=notebook
. .ci/setup
[ "$(id -u)" != 0 ] || set -- --allow-root "$@"
exec .venv/bin/jupyter lab notebooks/01_first_linkage.ipynb "$@"
