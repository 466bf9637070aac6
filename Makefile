# Two commands do everything on a fresh machine: `make demo` and `make test`.
# Both set up .venv from exact, hashed versions first.

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
STAMP := $(VENV)/.installed
DEMO := build/demo

.PHONY: demo picture test check schema lock bench clean help

help:
	@echo "make demo    set up, build the example vessel's repository, review its dangerous branch"
	@echo "make test    set up, run every check and test"
	@echo "make bench   time start-up, survey, solving, faults, a long history and books, beside others"
	@echo "make schema  write schema/ anew from the vocabulary"
	@echo "make picture renew the README's pictures from the demo"
	@echo "make lock    renew the exact versions in .ci/"
	@echo "make clean   remove .venv and build/"

$(STAMP): .ci/requirements.txt pyproject.toml
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || \
	  { echo "vesselspec needs Python 3.11 or newer; say: make PYTHON=python3.11 $(MAKECMDGOALS)"; exit 2; }
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r .ci/requirements.txt
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation -e .
	@touch $@

demo: $(STAMP)
	@$(BIN)/python example_vessel/refit/demo.py $(DEMO)

picture: demo
	@cp $(DEMO)-review/after.svg example_vessel/drawings/after.svg
	@$(BIN)/vesselspec draw $(DEMO) --at proposal/new-charger --panel ac-auxiliary --out $(DEMO)-panel >/dev/null
	@cp $(DEMO)-panel/schematic-ac-auxiliary-auxiliary-2.svg example_vessel/drawings/panel.svg

test: $(STAMP)
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/pytest -n auto

bench: $(STAMP)
	$(BIN)/python -m tests.bench.run
	$(BIN)/python -m tests.bench.steady
	$(BIN)/python -m tests.bench.faults
	$(BIN)/python -m tests.bench.history
	$(BIN)/python -m tests.bench.book

schema: $(STAMP)
	$(BIN)/python -m vesselspec.model.schema > schema/record.schema.json

lock: $(STAMP)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check pip-tools
	cd .ci && ../$(BIN)/pip-compile --quiet --upgrade --generate-hashes --strip-extras --allow-unsafe \
	  --no-header --output-file requirements.txt requirements.in
	cd .ci && ../$(BIN)/pip-compile --quiet --generate-hashes --strip-extras --no-header --no-annotate \
	  --constraint requirements.txt --output-file runtime.txt ../pyproject.toml

clean:
	rm -rf $(VENV) build dist .mypy_cache .ruff_cache .hypothesis
