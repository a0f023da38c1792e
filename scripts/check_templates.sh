#!/usr/bin/env bash
# Indentation of the templates: check_templates.sh [--fix]
set -euo pipefail
cd "$(dirname "$0")/.."
mode=--check
[ "${1:-}" != --fix ] || mode=
mapfile -t templates < <(find src -name '*.html' | sort)
[ ${#templates[@]} -gt 0 ] || { echo "No templates."; exit 0; }
# shellcheck disable=SC2086
exec .venv/bin/djhtml $mode --tabwidth 2 "${templates[@]}"
