# The stages of tests/run, in order. Sourced; the working folder is the root of the repository.
# shellcheck shell=bash disable=SC2034

stages=(prepare fmt clippy build size features boards emulated broken cfirmware budgets instructions docs links unit allfeatures doctests vectors peers oracles agreements hostile kills mishaps stars rules fuzz readme)
declare -A about=(
    [prepare]="packages by name: apt, pip into target/venv"
    [fmt]="rustfmt"
    [clippy]="clippy, warnings denied, all targets"
    [build]="everything that tests run"
    [size]="files up to 400 lines, functions up to about 60"
    [features]="core with each feature alone, none, and all"
    [budgets]="flash, memory, stack, instructions and panics on an emulated M0"
    [instructions]="a hub's events cost the same with 1 and with 250 leaves"
    [boards]="core and the short start for bare boards"
    [emulated]="firmware on emulated boards: scenarios; lints, no panic"
    [cfirmware]="static library for C: header, misuse, the dome in C"
    [broken]="its safety properties broken one at a time"
    [docs]="rustdoc, warnings denied"
    [links]="links and paths in the Markdown files"
    [unit]="unit and integration tests of every crate"
    [allfeatures]="the core's own tests with every feature on"
    [doctests]="examples in the docs"
    [oracles]="PyPI cobs, crccheck, two pcapng readers, pyserial"
    [agreements]="schema by PyPI jsonschema, pages by html5lib and markdown-it"
    [hostile]="vectors as hex, held lines, 100 MB of noise, a console"
    [mishaps]="20 s of two processes with kills, unplugging, full disks"
    [stars]="a hub and leaves as processes, killed at random"
    [kills]="500 kills while recording, and a full disk"
    [readme]="the README's first command and the tour's"
    [rules]="each rule of WIRE.md switched off in turn"
    [fuzz]="fuzz targets build; their corpus runs in unit"
    [peers]="peers in other languages: vectors, noise, restarts"
    [vectors]="golden vectors made again by independent Python"
)
venv=$PWD/target/venv
python=$venv/bin/python

stage_prepare() {
    local missing=()
    command -v cc >/dev/null || missing+=(gcc)
    command -v python3 >/dev/null || missing+=(python3)
    python3 -c 'import venv, ensurepip' 2>/dev/null || missing+=(python3-venv)
    if [ ${#missing[@]} -gt 0 ]; then
        apt-get update -qq && apt-get install -y -qq "${missing[@]}"
    fi
    [ -x "$python" ] || python3 -m venv "$venv"
    "$venv/bin/pip" install --quiet --disable-pip-version-check --requirement tests/oracles/requirements.txt
    "$venv/bin/pip" list --disable-pip-version-check
}

stage_fmt() { cargo fmt --all --check -- --color never; }
stage_clippy() { cargo clippy --workspace --all-targets --all-features -- -D warnings; }
stage_build() { cargo build --workspace && cargo test --workspace --no-run; }
stage_size() { python3 tests/size.py; }
stage_links() { python3 tests/links.py; }
stage_docs() { RUSTDOCFLAGS="-D warnings" cargo doc --workspace --no-deps --all-features; }
# A test that hangs must not hold up everything.
stage_unit() { timeout 1200 cargo test --workspace --lib --bins --tests --no-fail-fast; }
stage_allfeatures() { cargo test -p bellwire --lib --all-features; }
stage_boards() { tests/boards; }
stage_emulated() { tests/emulated && tests/firmware && tests/panics; }
stage_broken() { tests/emulated --broken; }
stage_cfirmware() { tests/c_firmware; }
stage_budgets() { tests/budgets/run; }
stage_instructions() {
    command -v valgrind >/dev/null || { apt-get update -qq && apt-get install -y -qq --no-install-recommends valgrind; }
    tests/instructions --hub
}
stage_doctests() { cargo test --workspace --doc; }

stage_features() {
    local feature
    cargo check -p bellwire --no-default-features
    for feature in $(python3 tests/features.py core/Cargo.toml); do
        echo "== $feature"
        cargo check -p bellwire --no-default-features --features "$feature"
    done
    cargo check -p bellwire --all-features
}

stage_vectors() {
    "$python" tests/vectors/make.py --check
    "$python" tests/vectors/air.py --check
    "$python" tests/vectors/star.py --check
    "$python" tests/vectors/sessions.py --check
    "$python" tests/vectors/conversations.py
}

stage_peers() {
    cargo build -p bellwire-cli -p bellwire-tests --bin bellwire --bin peer_partner
    python3 tests/peers/python_vectors.py
    python3 tests/peers/small_vectors.py
    python3 tests/peers/c_vectors.py
    python3 tests/peers/talk.py
    python3 tests/peers/tool.py
    python3 tests/peers/typed.py
    if ! command -v arm-none-eabi-gcc >/dev/null; then
        apt-get update -qq && apt-get install -y -qq --no-install-recommends gcc-arm-none-eabi libnewlib-arm-none-eabi || true
    fi
    if command -v arm-none-eabi-gcc >/dev/null; then
        tests/peers/c_sizes
    else
        echo "left out: the C peer for a board; gcc-arm-none-eabi cannot be had"
    fi
    local firmware=/usr/share/firmware-microbit-micropython/firmware.hex
    if [ ! -e "$firmware" ] || ! command -v qemu-system-arm >/dev/null; then
        apt-get update -qq && apt-get install -y -qq --no-install-recommends qemu-system-arm firmware-microbit-micropython || true
    fi
    if [ -e "$firmware" ] && command -v qemu-system-arm >/dev/null; then
        python3 tests/peers/board.py
        python3 tests/peers/board_generated.py
        python3 tests/peers/board_typed.py
    else
        echo "left out: the peer on an emulated board; qemu-system-arm and firmware-microbit-micropython cannot be had"
    fi
}

stage_rules() { tests/rules; }
stage_fuzz() { CARGO_TARGET_DIR=$PWD/target/fuzz cargo check --manifest-path fuzz/Cargo.toml; }

stage_oracles() {
    cargo build -p bellwire-cli -p bellwire-tests --bin bellwire --examples
    "$python" tests/oracles/coding.py
    "$python" tests/oracles/captures.py
    "$python" tests/oracles/serial_peer.py
}

stage_agreements() {
    cargo build -p bellwire-cli --bin bellwire
    "$python" tests/oracles/schema.py
    "$python" tests/oracles/pages.py
}

stage_hostile() { "$python" tests/oracles/hostile.py; }
stage_kills() { "$python" tests/oracles/kills.py; }
stage_stars() {
    cargo build -p bellwire-tests --bin star_board
    "$python" tests/oracles/star_kills.py udp 10
    "$python" tests/oracles/star_kills.py pty 10
}
stage_mishaps() { "$python" tests/oracles/mishaps.py 20; }
stage_readme() { tests/readme; }
