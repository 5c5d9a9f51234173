# One command for each job; `make` alone lists them. Needs Python 3.11 to 3.13 and make, nothing else: the first run
# sets up .venv (tools/bootstrap.py), later runs find it there.
#   make test PYTHON=python3.12     another Python
.DEFAULT_GOAL := help
.PHONY: help demo test test-slow audit check lint bench planted drafts words lock clean
.DELETE_ON_ERROR:

VENV := .venv
PY := $(VENV)/bin/python
# What publishing needs is there; what testing needs is there as well.
READY := $(VENV)/ready
TESTABLE := $(VENV)/ready-test
# uv makes the lock files; it is not needed to use them, so it is not in them.
UV_VERSION := 0.13.9
UV := $(VENV)/lock/bin/uv
LOCK_WITH := $(UV) pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-header --extra build
UPGRADED := $(if $(UPGRADE),--upgrade)

# Any Python 3 can run the set-up, which then picks the one to work with.
STARTER := $(or $(PYTHON),$(firstword $(foreach name,python3 python3.13 python3.12 python3.11,$(shell command -v $(name) 2>/dev/null))))

help: ## List the commands
	@awk 'BEGIN {FS = ":.*## "} /^[a-z-]+:.*## / {printf "  make %-10s %s\n", $$1, $$2}' $(MAKEFILE_LIST)

SET_UP = @test -n "$(STARTER)" || { echo "No Python was found. Install Python 3.11, 3.12 or 3.13, then run make again."; exit 2; }; \
	$(STARTER) tools/bootstrap.py $(if $(PYTHON),--python "$(PYTHON)")

$(READY): requirements.lock pyproject.toml tools/bootstrap.py
	$(SET_UP)

$(TESTABLE): requirements-dev.lock pyproject.toml tools/bootstrap.py
	$(SET_UP) --for test

demo: $(READY) ## Publish the demonstration department to public/ and say how to open it
	@$(PY) -m builder publish . --to public

test: lint ## Run the linters, the type checker and all tests but the slow ones
	@$(PY) -m pytest -n 2 --dist worksteal -m "not slow and not audit"

test-slow: $(TESTABLE) ## Run the slow tests
	@$(PY) -m pytest -n 2 --dist worksteal -m "slow and not audit"

# A second checker of tagged PDF, one of HTML, one of e-books and one of container files, 390 MB with what it draws in, so neither users nor `make test` need it.
audit: $(VENV)/audited ## Show papers, pages and e-books to checkers of PDF/UA-1, HTML and EPUB that are not ours
	@$(PY) -m pytest -m audit tests/paper/test_audit.py tests/site/test_markup.py tests/exchange

$(VENV)/audited: requirements-audit.lock $(TESTABLE)
	@$(PY) -m pip install --quiet --require-hashes -r requirements-audit.lock
	@touch $@

check: lint ## Run the linters and the type checker, and check the demonstration content
	@$(PY) -m builder check

lint: $(TESTABLE) ## Run the linters and the type checker
	@$(PY) -m ruff check
	@$(PY) -m ruff format --check
	@$(PY) -m mypy

bench: $(TESTABLE) ## Measure how long checking and publishing take as a department grows
	@$(PY) -m bench

planted: $(TESTABLE) ## Show that each planted defect is found, and nothing else
	@$(PY) tests/planted
	@$(PY) tests/planted_words

drafts: $(TESTABLE) ## Learn from the labelled talks what sentences do and say, and show what drafts find
	@$(PY) tests/drafts/learn_roles.py
	@$(PY) tests/drafts/learn_doings.py
	@$(PY) tests/drafts/measure_talks.py
	@$(PY) tests/drafts/measure_labellers.py
	@$(PY) tests/drafts --held-out

words: $(TESTABLE) ## Bring the translations up to code and templates, and compile them
	@PYTHONPATH=. $(PY) tools/words.py

lock: $(TESTABLE) ## Write the lock files anew after a change in pyproject.toml; UPGRADE=1 takes newer versions
	@test -x $(UV) || { $(PY) -m venv $(VENV)/lock && $(VENV)/lock/bin/python -m pip install --quiet "uv==$(UV_VERSION)"; }
	@$(LOCK_WITH) $(UPGRADED) --extra dev --output-file requirements-dev.lock pyproject.toml
	@$(LOCK_WITH) $(UPGRADED) --constraint requirements-dev.lock --output-file requirements.lock pyproject.toml
	@$(LOCK_WITH) $(UPGRADED) --constraint requirements-dev.lock --extra dev --extra audit \
		--output-file requirements-audit.lock pyproject.toml
	@git diff --stat -- requirements.lock requirements-dev.lock requirements-audit.lock

clean: ## Remove what make and the tools made, .venv included
	rm -rf $(VENV) public build dist .pytest_cache .mypy_cache .ruff_cache .hypothesis
	find . -name __pycache__ -type d -prune -exec rm -rf {} +
