# make setup   .venv with everything, from the hash-locked requirements
# make run     judge the demo tray on the terminal, then serve it on this machine
# make quick   the tests without a browser and without the slow ones: the one to code by
# make test    all tests
# make coverage  the lines of trade and calc that no test reaches
# make properties   the property tests with new examples, for SEEDS=20 seeds in a row
# make doors   odd things at every door, TRIES=20000 of them
# make check   format, lint, types, layers, templates, Django, generated pages, all tests
# make fix     format and mend what can be mended by a program
# make bench   measure against other programs
# make docs    write the generated pages again
# make clean   take away what can be made again

SHELL  := /bin/bash
.SHELLFLAGS := -eu -o pipefail -c
.DELETE_ON_ERROR:
.NOTPARALLEL:

VENV   := .venv
BIN    := $(VENV)/bin
PY     := $(BIN)/python
PORT   ?= 8000
ARGS   ?=
SEEDS  ?= 20
TRIES  ?= 20000
# A browser test and the rest side by side; more than four only get in each other's way.
CORES  ?= $(shell n=$$(nproc 2>/dev/null || echo 2); [ $$n -gt 4 ] && echo 4 || echo $$n)
LOCKS  := $(foreach name,base build postgres test,requirements/$(name).lock)
STAMP  := $(VENV)/.stamp
BENCH_STAMP := $(VENV)/.stamp-bench

# Not exported: the tests set the data folder before Django reads its settings.
DJANGO := DJANGO_SETTINGS_MODULE=rehang.site.settings $(PY) -m django

.PHONY: setup run quick test coverage properties doors check lint fix bench docs clean

setup: $(STAMP)

$(STAMP): $(LOCKS) pyproject.toml scripts/make_venv.sh
	@bash scripts/make_venv.sh $(VENV) $(LOCKS)
	@touch $@

run: setup
	@$(BIN)/rehang demo
	@exec $(BIN)/rehang serve --port $(PORT)

test: setup
	@bash scripts/system_packages.sh
	$(PY) -m pytest -n $(CORES) --dist loadfile --no-loadscope-reorder --durations=10 $(ARGS)

quick: setup
	$(PY) -m pytest -q -n $(CORES) -m "not browser and not postgres and not slow" $(ARGS)

# Lines of trade and calc that no test reaches; a line that cannot be reached says so beside it.
coverage: setup
	$(PY) -m coverage erase
	$(PY) -m coverage run -m pytest -q -m "not browser and not postgres" $(or $(ARGS),tests/trade tests/published tests/properties tests/paper tests/tables src/rehang/calc src/rehang/trade)
	$(PY) -m coverage report --include='src/rehang/trade/*,src/rehang/calc/*' --show-missing --skip-covered

properties: setup
	@for n in $$(seq $(SEEDS)); do \
		seed=$$RANDOM; echo "Seed $$seed, $$n of $(SEEDS)"; \
		$(PY) -m pytest -q -n $(CORES) --dist loadfile -m hypothesis \
			--hypothesis-profile=drawn --hypothesis-seed=$$seed $(ARGS); \
	done

doors: setup
	$(PY) -m bench.doors --tries $(TRIES) $(ARGS)

# Everything of `check` but the tests.
lint: setup
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/lint-imports
	@bash scripts/check_templates.sh
	$(DJANGO) check --fail-level WARNING
	$(DJANGO) makemigrations --check --dry-run
	$(PY) scripts/make_docs.py --check

check: lint test

fix: setup
	$(BIN)/ruff format .
	$(BIN)/ruff check --fix .
	@bash scripts/check_templates.sh --fix

docs: setup
	$(PY) scripts/make_docs.py

$(BENCH_STAMP): $(STAMP) requirements/bench.lock
	$(PY) -m pip install -qq --require-hashes -r requirements/bench.lock
	@touch $@

bench: $(BENCH_STAMP)
	$(PY) -m bench $(ARGS)

clean:
	rm -rf $(VENV) build dist htmlcov .coverage .mypy_cache .ruff_cache .pytest_cache .hypothesis .import_linter_cache
	find . -name __pycache__ -not -path './.git/*' -prune -exec rm -rf {} +
	rm -rf src/*.egg-info
