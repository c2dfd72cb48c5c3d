# One command for each thing a developer does; CI uses the same ones. Everything made stays in .venv, target and out.

PYTHON ?= python3
BIN    := .venv/bin
STAMPS := .venv/stamps

# Folders are in the list as well, so that a deleted file counts as a change.
SOURCES := $(shell find src python/src) Cargo.toml Cargo.lock python/Cargo.toml python/pyproject.toml

export PIP_DISABLE_PIP_VERSION_CHECK := 1

.PHONY: help demo campaign test test-rust test-python lint format stubs bench bench-hot coverage coverage-priors two-natures sbc venv clean

help:
	@echo "make demo    fit, calibrate and predict on invented records: examples/demo.py"
	@echo "make test    all tests: Rust, doc examples, Python, README, notebooks"
	@echo "make lint    formatting, lints and documentation, as CI checks them"
	@echo "make format  put Rust and Python code into form"
	@echo "make stubs   fill in docstrings and names of the Python stubs, after a change of a table or a doc comment"
	@echo "make bench   time everything beside general-purpose libraries: bench/peers.py"
	@echo "make coverage  fit 200 other invented shops, count how often intervals hold: studies/coverage.py"
	@echo "make coverage-priors  the same for shops drawn from the priors: tests/fit/coverage_priors.rs"
	@echo "make two-natures  the same for 200 shops each of two invented natures, the second by other laws"
	@echo "make sbc     whether truths stand at even ranks in posteriors: tests/fit/simulated_castings.rs, simulated_cups.rs"
	@echo "make campaign  count castings until a new mold is dialed in: campaign/README.md"
	@echo "make clean   remove .venv, .venv-bench, target and out"

demo: $(STAMPS)/extension
	$(BIN)/python examples/demo.py

MOLDS ?= 200

campaign: $(STAMPS)/extension
	nice $(BIN)/python campaign/run.py $(MOLDS)

test: test-rust test-python

test-rust:
	cargo test --locked

test-python: $(STAMPS)/extension $(STAMPS)/requirements
	$(BIN)/python -m pytest tests/python

lint: $(STAMPS)/requirements
	cargo fmt --all --check
	cargo clippy --locked --workspace --all-targets -- -D warnings
	RUSTDOCFLAGS="-D warnings" cargo doc --locked --workspace --no-deps
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .

format: $(STAMPS)/requirements
	cargo fmt --all
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .

stubs: $(STAMPS)/extension $(STAMPS)/requirements
	$(BIN)/python python/stubs.py

# Peers and their environment stay out of the crate's tree: bench/ is a workspace of its own, .venv-bench an environment.
bench: .venv-bench/extension
	cargo build --locked --release --manifest-path bench/Cargo.toml --target-dir target --workspace
	.venv-bench/bin/python bench/peers.py

coverage: $(STAMPS)/extension
	$(BIN)/python studies/coverage.py

# Hours; goes on where it was stopped. LAYERS=3 takes foam in layers.
LAYERS ?= 1

two-natures: $(STAMPS)/extension
	nice $(BIN)/python studies/two_natures.py --layers $(LAYERS)

# 500 of 650 drawn shops have records to learn from. Posteriors of fewer, as they take an hour.
coverage-priors:
	SHOPS=650 cargo test --locked --release --test fit -- --ignored --nocapture coverage_priors::linear
	SHOPS=150 cargo test --locked --release --test fit -- --ignored --nocapture coverage_priors::posteriors

sbc:
	SHOPS=300 cargo test --locked --release --test fit -- --include-ignored --nocapture simulated_castings::
	cargo test --locked --release --test fit -- --ignored --nocapture simulated_cups::

bench-hot:
	cargo bench --locked --manifest-path bench/Cargo.toml --target-dir target

.venv-bench/python:
	@$(PYTHON) -c 'import sys, venv, ensurepip; sys.exit(sys.version_info < (3, 10))' || { \
	  echo "Python 3.10 or newer with its venv module is needed: make PYTHON=python3.12 bench"; exit 1; }
	$(PYTHON) -m venv --clear .venv-bench
	@touch $@

.venv-bench/requirements: bench/requirements.txt .venv-bench/python
	.venv-bench/bin/python $(PIP_INSTALL) $<
	@touch $@

.venv-bench/extension: $(SOURCES) .venv-bench/requirements
	VIRTUAL_ENV=$(CURDIR)/.venv-bench .venv-bench/bin/maturin develop --quiet --locked --profile wheel --manifest-path python/Cargo.toml
	@touch $@

venv: $(STAMPS)/extension $(STAMPS)/requirements

$(STAMPS)/python:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 10))' || { \
	  echo "Python 3.10 or newer is needed; $(PYTHON) is missing or older. Name another: make PYTHON=python3.12"; exit 1; }
	@$(PYTHON) -c 'import venv, ensurepip' || { \
	  echo "$(PYTHON) has no venv module; on Debian and Ubuntu: apt-get install python3-venv"; exit 1; }
	$(PYTHON) -m venv --clear .venv
	@mkdir -p $(STAMPS) && touch $@

# Compiled when first imported: most of what is installed never is.
PIP_INSTALL := -m pip install --quiet --no-compile --only-binary :all: --requirement

$(STAMPS)/build: python/requirements.txt $(STAMPS)/python
	$(BIN)/python $(PIP_INSTALL) $<
	@touch $@

$(STAMPS)/requirements: tests/requirements.txt $(STAMPS)/build
	$(BIN)/python $(PIP_INSTALL) $<
	@touch $@

# The package is linked, not copied: changed .py files need no new build. The feature is that of the tests, so that the crate
# is compiled once for both.
$(STAMPS)/extension: $(SOURCES) $(STAMPS)/build
	VIRTUAL_ENV=$(CURDIR)/.venv $(BIN)/maturin develop --quiet --locked --features risefit/internals \
	  --manifest-path python/Cargo.toml
	@touch $@

clean:
	rm -rf .venv .venv-bench target out python/risefit/_core*.so
