# Everything a person or a machine does with the project, one word each.
#   make demo    a live board on an invented incident, with virtual packs
#   make doors   three doors with virtual packs, a broker, and the board of a command post
#   make test    all tests
#   make check   the gate: format, lint, types, import rules, tests
#   make search  all tests, the searches among them DEPTH times as deep as in the gate
#   make quick   format, lint and import rules, and the tests of the pure core: half a minute
#   make mutants faults put into the pure core, some hundred from a seed: which does no test notice
#   make coverage branches of all code that no test of the gate takes, part by part
#   make bench   figures, each beside a peer measured in the same run
#   make trials  the conformance kit against every break and every right pack, with many seeds
#   make incidents  whole incidents on disks that go wrong, ten thousand of them
#   make fuzz    bytes looked for by coverage, a minute a target (installs atheris)
#   make hostile five thousand damaged and hostile files and journals, some hours of one core
#   make disk    real recorders on disks that hang for ten minutes, or take 20 s a write
#   make kills   recorder and board killed a thousand times; relay, mirror and broker a hundred each
#   make failing calls to the system that fail, by FAILING_SEEDS seeds
#   make format  write the code as the formatter wants it
#   make pythons the tests on each Python that is here, and with the newest of all dependencies
#   make deb     a Debian package, with unit, udev rule, manual pages and completion, into dist/
#   make clean   remove what the above made
# demo and test each work alone from a clean clone with Python 3.11 or newer and make.

PYTHON ?= python3
BIN := .venv/bin
TESTS ?= tests
WORKERS ?= 4
FUZZ_SECONDS ?= 60
FAILING_SEEDS ?= 500
TRIALS ?= 20
HOSTILE ?= 5000
SEEDS ?= 10000
DEPTH ?= 8
QUICK ?= tests/protocol tests/golden tests/threats tests/repository
KILLS ?= 1000
RELAY_KILLS ?= 100
MUTANTS ?= 300
SEED ?= 1
MODULES ?=
CODE := protocol monitor simulators shared tests
# More workers than cores: most of a functional test is waiting for what a real process does.
PYTEST := $(BIN)/pytest -q -n $(WORKERS) --dist loadgroup
# One by one, with their figures; some take longer than any test of the gate may.
LONG_PYTEST := $(BIN)/pytest -q -s -o faulthandler_timeout=0

.PHONY: demo doors test check search quick mutants coverage bench trials incidents fuzz hostile disk kills failing pythons deb format clean tools
.DELETE_ON_ERROR:

demo: .venv/.runtime
	@$(BIN)/outby drill

doors: .venv/.runtime
	@$(BIN)/python -m pip install -q -c constraints.txt -e '.[relay]'
	@$(BIN)/outby drill --doors

test: .venv/.dev tools
	@$(PYTEST) $(TESTS)

# The tests come last, so that their summary is the last line.
check: .venv/.dev tools
	@$(BIN)/ruff format --check -q $(CODE)
	@$(BIN)/ruff check -q $(CODE)
	@$(BIN)/mypy
	@$(BIN)/lint-imports
	@$(PYTEST) $(TESTS)

search: .venv/.dev tools
	@DEPTH=$(DEPTH) $(PYTEST) $(TESTS)

quick: .venv/.dev
	@$(BIN)/ruff format --check -q $(CODE)
	@$(BIN)/ruff check -q $(CODE)
	@$(BIN)/lint-imports
	@$(PYTEST) -m "not functional" $(QUICK)

mutants: .venv/.dev
	@$(BIN)/python -m tests.mutants --number $(MUTANTS) --seed $(SEED) --jobs $$(nproc) $(MODULES)

coverage: .venv/.dev
	@$(PYTEST) -m "not functional" --cov --cov-report=term:skip-covered $(TESTS)

bench: .venv/.bench
	@$(BIN)/python -m tests.benchmarks.bench

trials: .venv/.dev
	@TRIALS=$(TRIALS) $(BIN)/pytest -q -n auto tests/simulators/conformance/test_trial_breaks.py \
	  tests/simulators/conformance/test_trial_loss.py

incidents: .venv/.dev
	@SEEDS=$(SEEDS) $(PYTEST) tests/simulation/test_disk.py

fuzz: .venv/.dev
	@$(BIN)/python -m pip install -q 'atheris>=3' || { \
	  echo "atheris cannot be installed here: it needs Linux or macOS on a common processor" >&2; exit 1; }
	@for target in framer codec down intake; do \
	  $(BIN)/python -m tests.fuzz.atheris_wire $$target $(FUZZ_SECONDS) || exit 1; done

hostile: .venv/.dev
	@HOSTILE=$(HOSTILE) $(BIN)/pytest -q tests/fuzz/test_hostile_files.py tests/fuzz/test_hostile_journals.py

disk: .venv/.dev tools
	@LONG=1 $(LONG_PYTEST) tests/functional/test_bad_disk.py tests/functional/long_bad_disk.py

kills: .venv/.dev tools
	@KILLS=$(KILLS) $(LONG_PYTEST) tests/functional/test_kills.py
	@RELAY_KILLS=$(RELAY_KILLS) $(LONG_PYTEST) tests/functional/test_relay.py -k killed
	@RELAY_KILLS=20 $(LONG_PYTEST) tests/functional/long_relay.py

failing: .venv/.dev tools
	@FAILING_SEEDS=$(FAILING_SEEDS) $(LONG_PYTEST) tests/functional/test_failing_calls.py

pythons:
	@WORKERS=$(WORKERS) .ci/pythons $(TESTS)

deb: .venv/.dev
	@mkdir -p dist
	@.ci/deb dist

format: .venv/.dev
	@$(BIN)/ruff format $(CODE)
	@$(BIN)/ruff check --fix -q $(CODE)

clean:
	rm -rf .venv dist build .mypy_cache .ruff_cache .pytest_cache .hypothesis .import_linter_cache
	find $(CODE) -name __pycache__ -type d -prune -exec rm -rf {} +

.venv/.made:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { \
	  echo "Outby needs Python 3.11 or newer; say which one: make PYTHON=python3.12 ..." >&2; exit 1; }
	@$(PYTHON) -m venv .venv || { rm -rf .venv; \
	  echo "No virtual environment: install the venv module (Debian: apt-get install python3-venv)" >&2; \
	  exit 1; }
	@touch $@

.venv/.runtime: .venv/.made pyproject.toml constraints.txt
	@$(BIN)/python -m pip install -q -c constraints.txt -e .
	@touch $@

.venv/.dev: .venv/.made pyproject.toml constraints.txt
	@$(BIN)/python -m pip install -q -c constraints.txt -e '.[dev,readback]'
	@touch $@ .venv/.runtime

.venv/.bench: .venv/.dev
	@$(BIN)/python -m pip install -q -c constraints.txt -e '.[bench]'
	@touch $@

# The functional tests draw the board in a real terminal, build a library that slows the disk, have
# captures read by tshark and reports shown by a browser; unit, manual pages and package are read by
# systemd, groff and dpkg; commits travel over nats-server. Without these they fail and say so.
tools:
	@command -v tmux >/dev/null && command -v cc >/dev/null && command -v tshark >/dev/null && \
	  command -v chromium >/dev/null && command -v groff >/dev/null && \
	  command -v nats-server >/dev/null && \
	  command -v systemd-analyze >/dev/null && command -v dpkg-deb >/dev/null || { [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null && \
	  DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends \
	    tmux gcc libc6-dev tshark chromium fonts-dejavu-core groff-base systemd nats-server >/dev/null; } || \
	  echo "tmux, cc, tshark, chromium, groff, systemd, nats-server or dpkg is missing, and not installed:" \
	  "some tests will fail" >&2
