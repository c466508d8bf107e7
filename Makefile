# Holdair. `make help` says what there is; the first `make run` or `make test` installs what it needs.

PYTHON ?= $(shell command -v python3.11 || command -v python3)
PORT ?= 8000
BIN := .venv/bin
PIP := $(BIN)/python -m pip --disable-pip-version-check --quiet install --require-hashes

.PHONY: help run test lint format bench verify references lock packages clean
.DEFAULT_GOAL := help

help: ## show this list
	@awk -F ':.*## ' '/^[a-z]+:.*## / { printf "  make %-10s %s\n", $$1, $$2 }' Makefile

run: .venv/run.ok ## install, load the demo into an empty database, and serve on PORT (8000)
	@exec $(BIN)/python manage.py serve --port $(PORT)

test: .venv/test.ok packages ## the whole suite: SQLite, PostgreSQL, Redis, a worker, Chromium
	@exec $(BIN)/python -m tests.run $(ARGS)

lint: .venv/test.ok ## style, types, the walls between rooms, the compose file
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/lint-imports
	$(BIN)/mypy
	$(BIN)/yamllint --strict docker-compose.yml

format: .venv/test.ok ## put the code in the house's format
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .

bench: .venv/test.ok ## how quick a rating and a page are, as ratios
	@exec $(BIN)/python manage.py bench $(ARGS)

verify: .venv/run.ok ## the formulas against their check values
	@exec $(BIN)/python manage.py verify $(ARGS)

references: .venv/test.ok ## how far each formula is from a reference library
	@exec $(BIN)/python -m tests.references

lock: .venv/test.ok ## renew both lists of pinned packages from the .in files
	$(BIN)/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-emit-index-url \
		--custom-compile-command "make lock" $(ARGS) requirements.in -o requirements.txt
	$(BIN)/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-emit-index-url \
		--custom-compile-command "make lock" $(ARGS) --constraint requirements.txt requirements-dev.in -o requirements-dev.txt

packages: ## system packages that only the tests need: installed as root, else named
	@$(PYTHON) tests/packages.py

clean: ## remove what was installed and cached; the database in var/ stays
	rm -rf .venv .pytest_cache .ruff_cache .mypy_cache .hypothesis .import_linter_cache

.venv/bin/python:
	@$(PYTHON) tests/packages.py venv
	$(PYTHON) -m venv .venv

.venv/run.ok: requirements.txt | .venv/bin/python
	@echo "Installing packages; this takes a minute the first time."
	@$(PIP) -r requirements.txt
	@touch $@

# requirements-dev.txt holds all of requirements.txt too.
.venv/test.ok: requirements-dev.txt requirements.txt | .venv/bin/python
	@echo "Installing packages with the tools for tests; this takes a minute the first time."
	@$(PIP) -r requirements-dev.txt
	@touch .venv/run.ok $@
