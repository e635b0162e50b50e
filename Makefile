# drivekit from a fresh clone: `make study` needs Python 3.11 to 3.13, make and a package index, nothing else.
# Another Python: `make test PYTHON=python3.13`. One environment at a time; another minor version makes it anew.

PYTHON ?= python3
UPGRADE =

BIN := .venv/bin
VERSION := $(shell $(PYTHON) -c 'import sys; print("%d.%d" % sys.version_info[:2])' 2>/dev/null)
# The stamps stand inside the environment, so that clearing it clears them too, and name the Python that made it.
LOCKED := .venv/locked-$(VERSION)
READY := .venv/ready-$(VERSION)
# Its words are shown only when it fails.
PIP = @$(BIN)/python -m pip --disable-pip-version-check install --no-compile $(1) >.venv/pip.log 2>&1 || { \
    cat .venv/pip.log >&2; echo "The packages could not be installed; what pip said stands above." >&2; exit 1; }

# A person's own settings and histories stay out of what runs here, and it out of theirs.
export IPYTHONDIR := $(CURDIR)/.cache/ipython
MADE := $(shell mkdir -p "$(CURDIR)/.cache/ipython")
export JUPYTER_CONFIG_DIR := $(CURDIR)/.cache/jupyter/config
export JUPYTER_DATA_DIR := $(CURDIR)/.cache/jupyter/data
export JUPYTER_RUNTIME_DIR := $(CURDIR)/.cache/jupyter/runtime
export JUPYTERLAB_SETTINGS_DIR := $(CURDIR)/.cache/jupyter/settings
export JUPYTERLAB_WORKSPACES_DIR := $(CURDIR)/.cache/jupyter/workspaces
export PIP_NO_INPUT := 1
# Compiled modules are kept (in .venv and __pycache__): without them every start costs seconds.
unexport PYTHONDONTWRITEBYTECODE

.DELETE_ON_ERROR:
.PHONY: help study test fuzz lab figures workbooks bench calibration lock clean

help:  ## list these targets
	@sed -n 's/^\([a-z]*\):.*## \(.*\)/\1\t\2/p' Makefile | expand -t 11

study: $(READY)  ## set up, study the invented season two into out/, say where the page is
	@$(BIN)/drivekit study data/season-two --out out

test: $(READY)  ## set up and run every check: style, types, layers, tests, workbooks, browser
	$(BIN)/ruff check
	$(BIN)/ruff format --check
	$(BIN)/mypy
	$(BIN)/lint-imports
	$(BIN)/python -m pytest -n 2 --dist loadfile --no-loadscope-reorder -r s
	$(BIN)/python -m pytest -n 2 --dist loadfile -p no:randomly --nbval --nbval-sanitize-with=tests/nbval.cfg --nbval-current-env workbooks

fuzz: $(READY)  ## read N mutated logs (make fuzz N=10000): no traceback, no silent change, no half file
	FUZZ=$(or $(N),500) $(BIN)/python -m pytest -q -s tests/log/test_mutated_logs.py

lab: $(READY)  ## set up and open JupyterLab on a copy of the workbooks in out/
	@mkdir -p out && cd out && ../$(BIN)/drivekit lab

figures: $(READY)  ## redraw figures/ from the invented seasons
	@rm -rf out/figures; mkdir -p figures
	@set -e; for season in season-one season-two; do \
	    $(BIN)/drivekit study data/$$season --out out/figures/$$season >/dev/null; \
	    rm -rf figures/$$season; cp -R out/figures/$$season/figures figures/$$season; done
	@echo "figures/ is redrawn: git status shows what moved."

workbooks: $(READY)  ## run the workbooks again and store their outputs
	@$(BIN)/python -m drivekit.notebooks workbooks

bench: $(READY)  ## measure time and memory of check, study, import, redraw, and the hazard fit
	@$(BIN)/python tests/bench/bench.py

calibration: $(READY)  ## see how often intervals hold and claims are right, and store it (make calibration SEASONS=50)
	@OPENBLAS_NUM_THREADS=1 $(BIN)/python -m tests.bench.calibration $(SEASONS)  # each process has a core of its own

lock: $(READY)  ## pin what pyproject.toml names; UPGRADE=--upgrade takes the newest of everything
	@$(BIN)/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --all-extras --no-header \
	    $(UPGRADE) --output-file requirements.lock pyproject.toml
	@echo "requirements.lock is written: git diff shows what moved; make test installs it."

clean:  ## remove the environment, the caches and out/
	rm -rf .venv .cache .hypothesis .import_linter_cache .mypy_cache .pytest_cache .ruff_cache build dist out
	find . -name __pycache__ -type d -prune -exec rm -rf {} +

$(READY): $(LOCKED) pyproject.toml
	$(call PIP,--no-build-isolation --no-deps --editable .)
	@touch $@

$(LOCKED): requirements.lock
	@case "$(VERSION)" in \
	    3.11|3.12|3.13) ;; \
	    "") echo "There is no $(PYTHON) here that runs; name a Python 3.11, 3.12 or 3.13: make PYTHON=python3.12" >&2; exit 1;; \
	    *) echo "$(PYTHON) is Python $(VERSION); drivekit needs 3.11, 3.12 or 3.13: make PYTHON=python3.12" >&2; exit 1;; esac
	@$(PYTHON) -c 'import ensurepip, venv' 2>/dev/null || { \
	    echo "$(PYTHON) lacks venv; on Debian and Ubuntu: apt install python$(VERSION)-venv" >&2; exit 1; }
	@echo "Setting up Python $(VERSION) in .venv; this once takes a minute or two."
	@$(PYTHON) -m venv --clear .venv
	$(call PIP,--require-hashes --requirement requirements.lock)
	@touch $@
