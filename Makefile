# quarterturn - build, demo, check, install. "make help" tells the targets.

VERSION := 0.1.0
BUILD ?= build
PREFIX ?= /usr/local
DESTDIR ?=
# How fast "make demo" flies: 1 is real time, max as fast as it goes.
DEMO_SPEED ?= 1
JOBS ?= $(shell nproc 2>/dev/null || echo 1)

ifeq ($(origin CC),default)
CC := gcc
endif
WARNINGS := -Wall -Wextra -Wpedantic -Wconversion -Wshadow -Werror
OPTIMIZE ?= -O2 -g
SANITIZE ?=
# Sanitizers replace what hardening does.
HARDEN ?= $(if $(SANITIZE),,-fstack-protector-strong \
	-fstack-clash-protection -U_FORTIFY_SOURCE -D_FORTIFY_SOURCE=2)
HARDEN_LINK ?= $(if $(SANITIZE),,-pie -Wl,-z,relro,-z,now,-z,noexecstack)
# Replays are compared to the digit: no contraction into fused multiply-add,
# and never -ffast-math.
CFLAGS_ALL = -std=c11 $(WARNINGS) $(OPTIMIZE) $(SANITIZE) $(HARDEN) -fPIE \
	-ffp-contract=off -Iinclude -D_POSIX_C_SOURCE=200809L \
	-DQUARTERTURN_VERSION='"$(VERSION)"' \
	-DQUARTERTURN_DATA='"$(PREFIX)/share/quarterturn"' -MMD -MP $(CFLAGS)
LDFLAGS_ALL = $(SANITIZE) $(HARDEN_LINK) $(LDFLAGS)

# pkg-config may not be there before the set-up: asked on first use only.
PACKAGES := libuv portaudio-2.0 sndfile libconfuse jansson samplerate libpcap
LIBS = $(eval LIBS := $(shell pkg-config --libs $(PACKAGES)) -lm -pthread)$(LIBS)
PKG_CFLAGS = $(eval PKG_CFLAGS := $(shell \
	pkg-config --cflags $(PACKAGES) | sed 's/-I/-isystem /g'))$(PKG_CFLAGS)
TEST_LIBS = $(eval TEST_LIBS := $(shell pkg-config --libs cmocka))$(TEST_LIBS)

SOURCES := $(wildcard daemon/*.c daemon/*/*.c)
OBJECTS := $(SOURCES:%.c=$(BUILD)/%.o)
# Without what changes at each commit, so that no test is linked for that.
ROOM_OBJECTS := $(filter-out $(BUILD)/daemon/main.o \
	$(BUILD)/daemon/commands/version.o,$(OBJECTS))
SUPPORT_OBJECTS := $(patsubst %.c,$(BUILD)/%.o,$(wildcard tests/support/*.c))
# Each source of these folders is one test program; those of tests/audio are
# run by the script that gives them a sound server.
UNIT_TESTS := $(patsubst %.c,$(BUILD)/%,$(wildcard tests/unit/test_*.c))
WIRE_TESTS := $(patsubst %.c,$(BUILD)/%,$(wildcard tests/wire/*.c))
REPLAY_TESTS := $(patsubst %.c,$(BUILD)/%,$(wildcard tests/replay/*.c))
SYSTEM_TESTS := $(patsubst %.c,$(BUILD)/%,$(wildcard tests/system/test_*.c))
# Given to a test program; ten times that to one that a sanitizer slows down.
TEST_SECONDS = 300
# A sanitizer's own memory is not what this one measures.
ifneq ($(SANITIZE),)
TEST_SECONDS = 3000
SYSTEM_TESTS := $(filter-out %/test_endurance,$(SYSTEM_TESTS))
endif
# ONLY="test_listen test_tell": of these kinds no other test is built or run;
# WITHOUT="...": all but these.
NO_TEST := $(filter-out $(notdir $(UNIT_TESTS) $(WIRE_TESTS) $(REPLAY_TESTS) \
	$(SYSTEM_TESTS)),$(ONLY) $(WITHOUT))
ifneq ($(NO_TEST),)
$(error no test is called $(NO_TEST))
endif
ifneq ($(WITHOUT),)
UNIT_TESTS := $(filter-out $(WITHOUT:%=\%/%),$(UNIT_TESTS))
WIRE_TESTS := $(filter-out $(WITHOUT:%=\%/%),$(WIRE_TESTS))
REPLAY_TESTS := $(filter-out $(WITHOUT:%=\%/%),$(REPLAY_TESTS))
SYSTEM_TESTS := $(filter-out $(WITHOUT:%=\%/%),$(SYSTEM_TESTS))
endif
ifneq ($(ONLY),)
UNIT_TESTS := $(filter $(ONLY:%=\%/%),$(UNIT_TESTS))
WIRE_TESTS := $(filter $(ONLY:%=\%/%),$(WIRE_TESTS))
REPLAY_TESTS := $(filter $(ONLY:%=\%/%),$(REPLAY_TESTS))
SYSTEM_TESTS := $(filter $(ONLY:%=\%/%),$(SYSTEM_TESTS))
endif
SYSTEM_FORMER = $(wordlist 1,11,$(SYSTEM_TESTS))
SYSTEM_LATTER = $(wordlist 12,$(words $(SYSTEM_TESTS)),$(SYSTEM_TESTS))
AUDIO_TESTS := $(patsubst %.c,$(BUILD)/%,$(wildcard tests/audio/test_*.c))
LOAD_TESTS := $(patsubst %.c,$(BUILD)/%,$(wildcard tests/load/test_*.c))
TESTS := $(UNIT_TESTS) $(WIRE_TESTS) $(REPLAY_TESTS) $(SYSTEM_TESTS) \
	$(AUDIO_TESTS) $(LOAD_TESTS)
VOICE_SPEAKER := $(BUILD)/tests/voice/say_in_noise

# Each bench_*.c is one program; the other sources of that folder are shared.
BENCHES := $(patsubst %.c,$(BUILD)/%,$(wildcard tests/bench/bench_*.c))
BENCH_OBJECTS := $(patsubst %.c,$(BUILD)/%.o,$(filter-out \
	tests/bench/bench_%,$(wildcard tests/bench/*.c)))
BENCH_LIBS = $(eval BENCH_LIBS := $(shell \
	pkg-config --libs jack libpulse))$(BENCH_LIBS)

# Nobody's own configuration is for a test.
RUN_TESTS = XDG_CONFIG_HOME=/nonexistent QUARTERTURN=$(BUILD)/quarterturn \
	sh tests/support/run-tests \
	$(BUILD)/logs/$@

.DEFAULT_GOAL := all
.DELETE_ON_ERROR:
.SECONDARY:
.PHONY: all programs needs FORCE
.PHONY: demo demo-run
.PHONY: check check-run unit wire replay audio golden
.PHONY: system system-former system-latter
.PHONY: check-asan check-tsan check-valgrind check-arm64
.PHONY: fuzz fuzz-programs
.PHONY: bench bench-programs
.PHONY: oracle oracle-modules check-frames check-page
.PHONY: lint coverage
.PHONY: install uninstall dist deb check-deb
.PHONY: clean help

# ---- build ----------------------------------------------------------------

all: $(BUILD)/quarterturn

needs:
	@.ci/setup --only-look build

# Rebuild when the compiler or its flags change (PREFIX is among them).
FLAGS_TEXT = $(subst ','\'',$(CC) $(CFLAGS_ALL) $(LDFLAGS_ALL))
$(BUILD)/flags: FORCE
	@mkdir -p $(@D)
	@echo '$(FLAGS_TEXT)' | cmp -s - $@ || echo '$(FLAGS_TEXT)' >$@

# One line for each step; "make V=1" shows the commands.
V ?= 0
SHOW_0 = @echo "  $(1) $(2)"
SHOW_1 = @:
SHOW = $(SHOW_$(V))
Q_0 := @
Q = $(Q_$(V))

$(BUILD)/quarterturn: $(OBJECTS) $(BUILD)/flags
	$(call SHOW,link,$@)
	$(Q)$(CC) $(CFLAGS_ALL) $(LDFLAGS_ALL) -o $@ $(OBJECTS) $(LIBS)

$(BUILD)/libquarterturn.a: $(ROOM_OBJECTS)
	@rm -f $@
	$(Q)ar rcs $@ $(ROOM_OBJECTS)

# Only what --version prints changes with each commit.
REVISION = $(shell git describe --always --dirty 2>/dev/null || \
	cat REVISION 2>/dev/null || echo unknown)
$(BUILD)/revision: FORCE
	@mkdir -p $(@D)
	@echo '$(REVISION)' | cmp -s - $@ || echo '$(REVISION)' >$@
$(BUILD)/daemon/commands/version.o: $(BUILD)/revision
$(BUILD)/daemon/commands/version.o: private CFLAGS += \
	-DQUARTERTURN_REVISION='"$(REVISION)"'

$(BUILD)/%.o: %.c $(BUILD)/flags | needs
	@mkdir -p $(@D)
	$(call SHOW,compile,$<)
	$(Q)$(CC) $(CFLAGS_ALL) $(PKG_CFLAGS) -c -o $@ $<

$(BUILD)/tests/%.o: tests/%.c $(BUILD)/flags | needs
	@mkdir -p $(@D)
	$(call SHOW,compile,$<)
	$(Q)$(CC) $(CFLAGS_ALL) $(PKG_CFLAGS) -Itests/support -c -o $@ $<

$(BUILD)/libsupport.a: $(SUPPORT_OBJECTS)
	@rm -f $@
	$(Q)ar rcs $@ $(SUPPORT_OBJECTS)

$(BUILD)/tests/%: $(BUILD)/tests/%.o $(BUILD)/libsupport.a \
		$(BUILD)/libquarterturn.a
	$(call SHOW,link,$@)
	$(Q)$(CC) $(CFLAGS_ALL) $(LDFLAGS_ALL) -o $@ $^ $(TEST_LIBS) $(LIBS)

$(BUILD)/libbench.a: $(BENCH_OBJECTS)
	@rm -f $@
	$(Q)ar rcs $@ $(BENCH_OBJECTS)

$(BUILD)/tests/bench/%: $(BUILD)/tests/bench/%.o $(BUILD)/libbench.a \
		$(BUILD)/libsupport.a $(BUILD)/libquarterturn.a
	$(call SHOW,link,$@)
	$(Q)$(CC) $(CFLAGS_ALL) $(LDFLAGS_ALL) -o $@ $^ $(TEST_LIBS) \
		$(BENCH_LIBS) $(LIBS)

# ---- demo -----------------------------------------------------------------

demo:
	@.ci/setup build
	@$(MAKE) --no-print-directory -j$(JOBS) all
	@$(MAKE) --no-print-directory demo-run

demo-run: $(BUILD)/quarterturn
	@QUARTERTURN=$(BUILD)/quarterturn sh tests/support/demo \
		$(BUILD)/demo $(DEMO_SPEED)

# ---- check ----------------------------------------------------------------

check:
	@.ci/setup check
	@$(MAKE) --no-print-directory -j$(JOBS) programs
	@$(MAKE) --no-print-directory check-run

KINDS ?= system replay wire unit
# One more than processors, since one waits.
TEST_JOBS = $(if $(filter 1,$(JOBS)),1,$(shell expr $(JOBS) + 1))
# The kinds run side by side: the live flight of the system tests takes its
# real time. The sound tests judge timing and run alone; SOUND= leaves them out
# where they would not be alone.
SOUND ?= $(if $(SANITIZE),,audio)
check-run: programs
	@rm -rf $(BUILD)/logs
	@status=0; \
	$(MAKE) --no-print-directory -j$(TEST_JOBS) --output-sync=target -k \
		$(KINDS) || status=1; \
	[ -z "$(SOUND)" ] || \
		$(MAKE) --no-print-directory $(SOUND) || status=1; \
	sh tests/support/sum-up $(BUILD)/logs || status=1; \
	exit $$status

programs: $(BUILD)/quarterturn $(TESTS)

unit: $(UNIT_TESTS)
	@$(RUN_TESTS) $(TEST_SECONDS) $(UNIT_TESTS)

wire: $(WIRE_TESTS)
	@$(RUN_TESTS) $(TEST_SECONDS) $(WIRE_TESTS)

replay: $(REPLAY_TESTS)
	@$(RUN_TESTS) $(TEST_SECONDS) $(REPLAY_TESTS)

# They fly in real time and wait more than they work: two halves, side by side.
system: system-former system-latter

system-former: $(SYSTEM_FORMER) $(BUILD)/quarterturn
	@$(RUN_TESTS) $(TEST_SECONDS) $(SYSTEM_FORMER)

system-latter: $(SYSTEM_LATTER) $(BUILD)/quarterturn
	@$(RUN_TESTS) $(TEST_SECONDS) $(SYSTEM_LATTER)

audio: $(AUDIO_TESTS) $(BUILD)/quarterturn
	@$(RUN_TESTS) 300 tests/audio/run

# What befalls sound and its servers, while a flight is flown; in real time.
.PHONY: check-audio
check-audio:
	@.ci/setup audio
	@$(MAKE) --no-print-directory -j$(JOBS) programs
	@EAR_TESTS="test_faults test_jack test_rest" $(RUN_TESTS) 300 tests/audio/run

# A recogniser listens to the voice in noise; other programs measure it.
.PHONY: check-voice
check-voice:
	@.ci/setup voice
	@$(MAKE) --no-print-directory -j$(JOBS) $(VOICE_SPEAKER)
	@QUARTERTURN_SPEAKER=$(VOICE_SPEAKER) $(RUN_TESTS) 600 \
		tests/voice/recognise tests/voice/measure

# The service unit under the system's own service manager, by root; where a
# machine does not allow it, it says so.
.PHONY: check-service
check-service:
	@.ci/setup service
	@$(MAKE) --no-print-directory -j$(JOBS) $(BUILD)/quarterturn
	@$(RUN_TESTS) 300 tests/service/run

# More than a network should bring, for LOAD_SECONDS, on the loopback alone.
.PHONY: load
LOAD_SECONDS ?= 30
load:
	@.ci/setup check
	@$(MAKE) --no-print-directory -j$(JOBS) programs
	@LOAD_SECONDS=$(LOAD_SECONDS) $(RUN_TESTS) 300 $(LOAD_TESTS)

# A day of flight at speed: memory and clock; it writes a recording of 31 MB
# for each hour under TMPDIR.
.PHONY: endurance
ENDURANCE_HOURS ?= 24
endurance:
	@.ci/setup check
	@$(MAKE) --no-print-directory -j$(JOBS) programs
	@ENDURANCE_HOURS=$(ENDURANCE_HOURS) $(RUN_TESTS) 1800 \
		$(BUILD)/tests/system/test_endurance

golden: $(BUILD)/tests/replay/test_golden
	@QUARTERTURN_GOLDEN=write $<
	@echo "New goldens lie beside the old ones as tests/replay/*.events.new."

# Builds of their own, beside $(BUILD), where the program finds config/ and
# sounds/ as it does in $(BUILD).
check-asan:
	@.ci/setup check
	@ASAN_OPTIONS=detect_leaks=1 $(MAKE) --no-print-directory -j$(JOBS) \
		BUILD=$(BUILD)-asan OPTIMIZE="-O1 -g -fno-omit-frame-pointer" \
		SANITIZE="-fsanitize=address,undefined -fno-sanitize-recover=all" \
		check-run

check-tsan:
	@.ci/setup check
	@TSAN_OPTIONS=halt_on_error=1 $(MAKE) --no-print-directory -j$(JOBS) \
		BUILD=$(BUILD)-tsan OPTIMIZE="-O1 -g" SANITIZE=-fsanitize=thread \
		check-run

# Lines that the tests run: at least 90 of 100 in the pure rooms, 80 in all.
# A program without privilege cannot write what it counted, and says so: not
# for a test that reads every line of it. One that may write small files only
# cuts what all others counted.
COVERAGE_SYSTEM = $(patsubst $(BUILD)/%,$(BUILD)-coverage/%,$(filter-out \
	%/test_file_faults %/test_recording_faults %/test_logbook_faults,\
	$(SYSTEM_TESTS)))
coverage:
	@.ci/setup coverage
	@find $(BUILD)-coverage -name '*.gcda' -delete 2>/dev/null || true
	@$(MAKE) --no-print-directory -j$(JOBS) BUILD=$(BUILD)-coverage \
		OPTIMIZE="-O1 -g --coverage -fprofile-update=atomic" \
		LDFLAGS=--coverage HARDEN= HARDEN_LINK= \
		SYSTEM_TESTS="$(COVERAGE_SYSTEM)" check-run
	@BUILD=$(BUILD)-coverage .ci/coverage

# Whole runs under a memory checker.
check-valgrind:
	@.ci/setup valgrind
	@$(MAKE) --no-print-directory -j$(JOBS) all
	@BUILD=$(BUILD) .ci/check-valgrind

# Another processor, emulated: the same events to the digit.
check-arm64:
	@.ci/setup arm64
	@BUILD=$(BUILD) JOBS=$(JOBS) .ci/check-arm64

# Bytes that anybody may have written, for a while; a build of its own. What a
# run finds it leaves in that build's crashes/.
FUZZ_SECONDS ?= 20
FUZZ_TARGETS := $(patsubst tests/fuzz/fuzz_%.c,%,$(wildcard \
	tests/fuzz/fuzz_*.c))
FUZZ_BUILD = $(BUILD)-fuzz
fuzz:
	@.ci/setup fuzz
	@$(MAKE) --no-print-directory -j$(JOBS) BUILD=$(FUZZ_BUILD) CC=clang \
		OPTIMIZE="-O1 -g -fno-omit-frame-pointer" \
		SANITIZE="-fsanitize=fuzzer-no-link,address,undefined \
		-fno-sanitize-recover=all" fuzz-programs
	@BUILD=$(FUZZ_BUILD) JOBS=$(JOBS) sh tests/fuzz/run $(FUZZ_SECONDS) \
		$(FUZZ_TARGETS)

fuzz-programs: $(FUZZ_TARGETS:%=$(BUILD)/tests/fuzz/fuzz_%)

# The fuzzer brings its own main.
$(BUILD)/tests/fuzz/fuzz_%: LDFLAGS += -fsanitize=fuzzer

# Frames of the open standards, made again by encoders that are not ours; what
# changed, git tells.
oracle: oracle-modules
	@NODE_PATH=$(abspath $(BUILD)/oracle/node_modules) tests/oracle/make
	@NODE_PATH=$(abspath $(BUILD)/oracle/node_modules) \
		tests/oracle/make-flight
	@echo "tests/oracle/*.frames and three recordings in tests/wire made."

oracle-modules:
	@.ci/setup oracle
	@install -D -m 644 tests/oracle/package.json \
		$(BUILD)/oracle/package.json
	@npm install --prefix $(BUILD)/oracle --no-package-lock --no-audit \
		--no-fund --ignore-scripts --loglevel=error

# What rehearsals send in the open standards, read by programs that are not
# ours.
check-frames: oracle-modules
	@$(MAKE) --no-print-directory -j$(JOBS) $(BUILD)/quarterturn
	@BUILD=$(BUILD) XDG_CONFIG_HOME=/nonexistent \
		NODE_PATH=$(abspath $(BUILD)/oracle/node_modules) \
		tests/oracle/read

# Pages, by a validator and in a browser; pictures of them stay in
# $(BUILD)/page/pictures.
check-page:
	@.ci/setup page
	@$(MAKE) --no-print-directory -j$(JOBS) $(BUILD)/quarterturn \
		$(BUILD)/tests/unit/test_debrief_page
	@install -D -m 644 tests/page/package.json $(BUILD)/page/package.json
	@npm install --prefix $(BUILD)/page --no-package-lock --no-audit \
		--no-fund --ignore-scripts --loglevel=error
	@BUILD=$(BUILD) XDG_CONFIG_HOME=/nonexistent tests/page/run

# ---- bench ----------------------------------------------------------------

# How near to its moment a call is heard, and what everything costs; figures
# go to $(BUILD)/bench/results.jsonl too. BENCH_QUICK=1: a short form.
bench:
	@.ci/setup bench
	@$(MAKE) --no-print-directory -j$(JOBS) $(BUILD)/quarterturn \
		bench-programs
	@BUILD=$(BUILD) sh tests/bench/run

bench-programs: $(BENCHES)

# ---- lint -----------------------------------------------------------------

lint:
	@.ci/setup lint
	@BUILD=$(BUILD) JOBS=$(JOBS) .ci/lint

# ---- install --------------------------------------------------------------

SHARE = $(DESTDIR)$(PREFIX)/share/quarterturn
DOCUMENTS = $(DESTDIR)$(PREFIX)/share/doc/quarterturn
UNITS = $(DESTDIR)$(PREFIX)/lib/systemd/user
MANUAL = $(DESTDIR)$(PREFIX)/share/man
COMPLETIONS = $(DESTDIR)$(PREFIX)/share
MANUAL_PAGES := $(wildcard config/manual/*.[1-9])
SHARED_FILES = $(shell find config/quarterturn.conf config/aircraft \
	config/layouts config/standards sounds -type f \
	! -name '.*' ! -perm -u+x)

# What is built knows PREFIX: give it to "make" and to "make install" alike.
install: $(BUILD)/quarterturn
	install -D -m 755 $(BUILD)/quarterturn $(DESTDIR)$(PREFIX)/bin/quarterturn
	@for file in $(SHARED_FILES); do \
		install -D -m 644 "$$file" "$(SHARE)/$$file" || exit 1; done
	@for page in $(MANUAL_PAGES); do \
		install -D -m 644 "$$page" \
		"$(MANUAL)/man$${page##*.}/$${page##*/}" || exit 1; done
	@if [ -d config/completions ]; then \
		install -D -m 644 config/completions/quarterturn.bash \
		$(COMPLETIONS)/bash-completion/completions/quarterturn && \
		install -D -m 644 config/completions/quarterturn.zsh \
		$(COMPLETIONS)/zsh/site-functions/_quarterturn && \
		install -D -m 644 config/completions/quarterturn.fish \
		$(COMPLETIONS)/fish/vendor_completions.d/quarterturn.fish; fi
	@mkdir -p $(UNITS)
	sed 's,@BINDIR@,$(PREFIX)/bin,' config/quarterturn.service \
		>$(UNITS)/quarterturn.service
	@chmod 644 $(UNITS)/quarterturn.service
	install -D -m 644 README.md $(DOCUMENTS)/README.md
	install -D -m 644 LICENSE $(DOCUMENTS)/LICENSE
	install -D -m 644 tests/replay/demo.pcap $(DOCUMENTS)/examples/demo.pcap
	install -D -m 644 tests/replay/demo.txt $(DOCUMENTS)/examples/demo.txt

uninstall:
	rm -f $(DESTDIR)$(PREFIX)/bin/quarterturn
	rm -rf $(SHARE) $(DOCUMENTS)
	rm -f $(UNITS)/quarterturn.service
	rm -f $(MANUAL)/man?/quarterturn.[1-9] \
		$(MANUAL)/man?/quarterturn-*.[1-9] \
		$(MANUAL)/man?/quarterturn.conf.[1-9]
	rm -f $(COMPLETIONS)/bash-completion/completions/quarterturn \
		$(COMPLETIONS)/zsh/site-functions/_quarterturn \
		$(COMPLETIONS)/fish/vendor_completions.d/quarterturn.fish

# ---- release --------------------------------------------------------------

# What git holds at this commit, and which commit that is.
DIST = $(BUILD)/quarterturn-$(VERSION).tar.gz
dist:
	@mkdir -p $(BUILD)
	@git describe --always --dirty >$(BUILD)/REVISION
	git archive --format=tar --prefix=quarterturn-$(VERSION)/ \
		--add-file=$(BUILD)/REVISION HEAD | gzip -9n >$(DIST)
	@echo "$(DIST)"

# A Debian package; a build of its own, because it knows where it will lie.
deb:
	@.ci/setup deb
	@$(MAKE) --no-print-directory -j$(JOBS) BUILD=$(BUILD)-deb PREFIX=/usr all
	@BUILD=$(BUILD)-deb VERSION=$(VERSION) OUT=$(BUILD) .ci/make-deb

# The package installs, flies, and leaves nothing behind; and so does "make
# install".
check-deb: deb
	@BUILD=$(BUILD)-deb PREFIX=/usr .ci/check-install
	@OUT=$(BUILD) VERSION=$(VERSION) .ci/check-deb

clean:
	rm -rf $(BUILD) $(BUILD)-asan $(BUILD)-tsan $(BUILD)-fuzz \
		$(BUILD)-arm64 $(BUILD)-deb $(BUILD)-coverage

help:
	@echo "make            build $(BUILD)/quarterturn"
	@echo "make demo       install what is needed, build, fly a recorded"
	@echo "                chandelle with its calls (DEMO_SPEED=max: at once)"
	@echo "make check      install what is needed, build, run every test"
	@echo "make lint       gcc, clang, structure, tidiness; warnings are errors"
	@echo "make check-asan the tests under the address and undefined-behaviour"
	@echo "                sanitizers"
	@echo "make check-tsan unit tests under the thread sanitizer"
	@echo "make check-valgrind whole runs under a memory checker"
	@echo "make check-arm64 cross-built and emulated: replays to the digit"
	@echo "make check-audio kill, stop and take away the sound while flying"
	@echo "make check-frames what rehearse sends, read by other programs"
	@echo "make check-service the service unit, in a user's session of its own"
	@echo "make check-page pages: valid, readable at three widths, one sheet"
	@echo "make check-voice a recogniser listens to the voice in engine noise"
	@echo "make coverage   the lines that the tests run, by room"
	@echo "make load       flood the port while flying, LOAD_SECONDS long"
	@echo "make endurance  replay ENDURANCE_HOURS of flight: memory, drift"
	@echo "make fuzz       feed the readers chance bytes, FUZZ_SECONDS each"
	@echo "make oracle     make the frames of tests/oracle again"
	@echo "make unit       one kind of test; also: wire, replay, system, audio"
	@echo "make bench      measure: how near its moment a call is heard, what a"
	@echo "                packet and a long recording cost (BENCH_QUICK=1)"
	@echo "make golden     write tests/replay/*.events.new for a person to read"
	@echo "make install    into DESTDIR, PREFIX (now $(PREFIX))"
	@echo "make uninstall  remove what install put there"
	@echo "make dist       $(BUILD)/quarterturn-$(VERSION).tar.gz"
	@echo "make deb        a Debian package; check-deb: try it"
	@echo "make clean      remove $(BUILD)"

-include $(OBJECTS:.o=.d) $(SUPPORT_OBJECTS:.o=.d) $(TESTS:=.d) \
	$(BENCH_OBJECTS:.o=.d) $(BENCHES:=.d)
