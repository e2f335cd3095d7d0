# boutwire: `make run` plays the demo day, `make test` runs every test, `make help` lists the rest.
# Our own flags stay out of CFLAGS, which a command line replaces whole.
BUILD := build
CC := gcc
CFLAGS := -O2 -g
SANITIZE := -fsanitize=address,undefined -fno-sanitize-recover=undefined -fno-omit-frame-pointer
WARNINGS := -Wall -Wextra -Wpedantic -Wshadow -Wconversion -Wsign-conversion -Wstrict-prototypes \
	-Wmissing-prototypes -Wold-style-definition -Wformat=2 -Wundef -Wcast-qual -Wwrite-strings \
	-Wpointer-arith -Wvla -Wdouble-promotion -Wnull-dereference -Wduplicated-cond -Wlogical-op \
	-Wimplicit-fallthrough=5 -Werror
HARDENING := -D_FORTIFY_SOURCE=2 -fstack-protector-strong -fPIE
LINKING := -pie -Wl,-z,relro,-z,now
LIBRARIES := -lwebsockets -luv -luring -ljansson -lsqlite3 -lcsv -lssl -lcrypto -licuuc -licui18n -lxml2 -lm
VERSION := 0.1.0

# The core is pure: strict C17, where POSIX is not even declared. The edge sees our libraries.
CORE := $(sort $(wildcard daemon/rules/*.c daemon/stats/*.c daemon/draw/*.c daemon/prompts/*.c \
	daemon/producing/*.c) \
	$(filter-out %_file.c,$(wildcard daemon/access/*.c)))
EDGE := $(sort $(wildcard daemon/wire/*.c daemon/journal/*.c daemon/archive/*.c daemon/net/*.c daemon/relay/*.c \
	daemon/access/*_file.c daemon/exports/*.c daemon/service/*.c daemon/commands/*.c))
UNIT := $(sort $(wildcard tests/unit/*.c))
BENCH := $(sort $(wildcard tests/bench/*.c))
BENCH_ARCHIVE := tests/bench/archive/archive.c
BENCH_CARDS := tests/bench/cards/cards.c
BENCH_FANOUT := $(sort $(wildcard tests/bench/fanout/*.c))
EDITIONS := $(sort $(wildcard daemon/rules/editions/*.json))
LANGUAGES := $(sort $(wildcard daemon/prompts/languages/*.json))
objects = $(patsubst %.c,$(BUILD)/%.o,$(1))

BUILD_PACKAGES := gcc libc6-dev libwebsockets-dev libwebsockets-evlib-uv libuv1-dev libjansson-dev \
	libsqlite3-dev libssl-dev libcsv-dev liburing-dev libicu-dev libxml2-dev
TEST_PACKAGES := libcriterion-dev chromium fonts-dejavu-core binutils sqlite3 openssl libpcre2-8-0
LINT_PACKAGES := clang-format clang-tidy
FUZZ_PACKAGES := clang libclang-rt-14-dev

.PHONY: all help run test unit lint format fence soak bench clean need-build need-test need-lint need-fuzz
.DELETE_ON_ERROR:

all: $(BUILD)/boutwire ## build build/boutwire (plain `make`)

help: ## show this list
	@awk -F ':.*## ' '/^[a-z-]+:.*## / {printf "make %-8s %s\n", $$1, $$2}' $(MAKEFILE_LIST)

# On all cores; what installs packages stays outside, one after another.
BUILD_FAST = $(MAKE) --no-print-directory --jobs=$(shell nproc)
SPEED := 1
PORT := 7600
run: ## build, start the daemon with the demo day playing (SPEED=4 PORT=7600)
	@$(BUILD_FAST) $(BUILD)/boutwire
	$(BUILD)/boutwire demo --speed $(SPEED) --listen 127.0.0.1:$(PORT)

test: need-test ## install what tests need and run all of them
	@$(BUILD_FAST) $(BUILD)/boutwire
	@$(BUILD_FAST) sanitized BUILD=$(BUILD)/sanitized CFLAGS='-O1 -g $(SANITIZE)' \
		HARDENING=-fPIE
	node tests/run.mjs

unit: need-test ## run the unit tests alone, with sanitizers
	@$(BUILD_FAST) sanitized BUILD=$(BUILD)/sanitized CFLAGS='-O1 -g $(SANITIZE)' \
		HARDENING=-fPIE
	node tests/run.mjs unit

.PHONY: sanitized
sanitized: $(BUILD)/unit $(BUILD)/boutwire $(BUILD)/net_echo replays

lint: need-lint need-test ## formatting, static analysis, the core's purity, the pages' style
	clang-format --dry-run -Werror $(CORE) $(EDGE) $(UNIT) $(BENCH) $(BENCH_ARCHIVE) $(BENCH_CARDS) $(BENCH_FANOUT) $(wildcard tests/bench/fanout/*.h) $(wildcard daemon/*.c daemon/*/*.h)
	clang-tidy --quiet --warnings-as-errors='*' $(CORE) -- -std=c17 -Idaemon
	clang-tidy --quiet --warnings-as-errors='*' $(EDGE) daemon/main.c -- -std=gnu17 -Idaemon \
		-DVERSION='"$(VERSION)"'
	$(MAKE) --no-print-directory fence
	tests/node_modules/.bin/eslint --config tests/eslint.config.js overlay tests

format: need-lint ## lay the C sources out as .clang-format says
	clang-format -i $(CORE) $(EDGE) $(UNIT) $(BENCH) $(BENCH_ARCHIVE) $(BENCH_CARDS) $(BENCH_FANOUT) $(wildcard tests/bench/fanout/*.h) $(wildcard daemon/*.c daemon/*/*.h)

fence: $(BUILD)/core.a ## the core calls no clock and no file, and keeps no writable data
	! nm -u $(BUILD)/core.a | grep -E ' U (clock|time|clock_gettime|gettimeofday|fopen|open|read|write|socket|malloc|free|calloc|realloc|printf|puts|getenv|rand)$$'
	! size -A $(BUILD)/core.a | awk '$$1 ~ /^\.(data|bss)/ && $$1 !~ /rel\.ro/ && $$2 > 0' | grep .

FANOUT_PROGRAMS := $(BUILD)/bench_floor $(BUILD)/bench_crowd $(BUILD)/bench_screen
FANOUT :=
bench: need-test $(BUILD)/boutwire $(BUILD)/bench $(BUILD)/bench_cards $(BUILD)/bench_archive $(FANOUT_PROGRAMS) ## measure: folding, committing, from key to page, cards, the archive, fan-out (FANOUT=--long)
	$(BUILD)/bench
	$(BUILD)/bench_cards
	$(BUILD)/bench_archive
	node tests/bench/bench.mjs
	node tests/bench/fanout.mjs $(FANOUT)

soak: need-test $(BUILD)/boutwire ## kills, damage, failing disks, slow and lost peers, at full length (SEED=1 ROUNDS=220)
	BOUTWIRE=$(abspath $(BUILD))/boutwire node tests/soak/soak.mjs

clean: ## remove all that was built
	rm -rf $(BUILD)

# ---- what the build needs, installed only when missing ----
SUDO := $(shell [ "$$(id -u)" = 0 ] || echo sudo)
define install-missing
@missing=; for package in $(1); do \
	dpkg-query -W -f='$${Status}' $$package 2>/dev/null | grep -q 'ok installed' || missing="$$missing $$package"; \
done; \
if [ -n "$$missing" ]; then \
	echo "installing$$missing"; \
	$(SUDO) apt-get update -q && \
	$(SUDO) env DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends $$missing; \
fi
endef

need-build:
	$(call install-missing,$(BUILD_PACKAGES))
need-fuzz: need-build
	$(call install-missing,$(FUZZ_PACKAGES))
need-lint:
	$(call install-missing,$(LINT_PACKAGES))
# nginx, as a program in a folder: installed as a package it would begin to serve this machine's
# port 80. One that is there is taken as it is.
NGINX := $(BUILD)/nginx/usr/sbin/nginx
$(NGINX):
	@mkdir -p $(BUILD)/nginx
	cd $(BUILD)/nginx && { apt-get download -q nginx || \
		{ $(SUDO) apt-get update -q && apt-get download -q nginx; }; } && dpkg -x nginx_*.deb .
# A machine may have its own newer node and npm, with which Debian's clash.
need-test: need-build $(if $(wildcard /usr/sbin/nginx),,$(NGINX))
	$(call install-missing,$(TEST_PACKAGES) \
		$(shell command -v node >/dev/null || echo nodejs) $(shell command -v npm >/dev/null || echo npm))
	@cmp -s tests/package-lock.json tests/node_modules/.installed-lock || \
		{ (cd tests && npm ci --no-audit --no-fund) && cp tests/package-lock.json tests/node_modules/.installed-lock; }

# ---- how it is built ----
STD := -std=gnu17
$(call objects,$(CORE)): STD := -std=c17
$(call objects,$(UNIT)): WARNINGS := $(filter-out -Wconversion -Wsign-conversion -Wpedantic -Wmissing-prototypes -Wcast-qual -Wwrite-strings,$(WARNINGS))

$(BUILD)/%.o: %.c | need-build
	@mkdir -p $(@D)
	@echo "cc $<"
	@$(CC) $(STD) $(WARNINGS) $(CFLAGS) $(HARDENING) -DVERSION='"$(VERSION)"' -Idaemon -isystem /usr/include/libxml2 -MMD -MP -c $< -o $@

# The shipped editions and languages, each a text of the program.
# $(1) files, $(2) the header that declares them, $(3) their list's type and name.
define texts
@mkdir -p $(@D)
@{ echo '#include "$(2)"'; \
for file in $(1); do \
	name=$$(basename $$file .json | tr -c 'a-z0-9\n' _); \
	echo "static const char text_$$name[] = {"; \
	od -An -v -tx1 $$file | sed 's/ \([0-9a-f][0-9a-f]\)/(char)0x\1,/g'; echo "0};"; \
done; \
echo 'const $(3)[] = {'; \
for file in $(1); do \
	name=$$(basename $$file .json | tr -c 'a-z0-9\n' _); \
	echo "{\"$$(basename $$file)\", text_$$name, sizeof text_$$name - 1},"; \
done; \
echo '{0, 0, 0}};'; } > $@
endef
$(BUILD)/editions.c: $(EDITIONS) Makefile
	$(call texts,$(EDITIONS),commands/shipped_editions.h,struct shipped_edition shipped_editions)
$(BUILD)/languages.c: $(LANGUAGES) Makefile
	$(call texts,$(LANGUAGES),wire/language_json.h,struct shipped_language shipped_languages)
$(BUILD)/languages.o: $(BUILD)/languages.c | need-build
	$(CC) -std=gnu17 $(CFLAGS) $(HARDENING) -Idaemon -c $< -o $@
$(BUILD)/editions.o: $(BUILD)/editions.c | need-build
	$(CC) -std=gnu17 $(CFLAGS) $(HARDENING) -Idaemon -c $< -o $@

$(BUILD)/core.a: $(call objects,$(CORE))
	rm -f $@
	ar rcs $@ $^

$(BUILD)/boutwire: $(call objects,daemon/main.c $(EDGE)) $(BUILD)/editions.o $(BUILD)/languages.o $(BUILD)/core.a
	$(CC) $(CFLAGS) $(LINKING) $^ -o $@ $(LIBRARIES)

$(BUILD)/unit: $(call objects,$(UNIT) $(EDGE)) $(BUILD)/editions.o $(BUILD)/languages.o $(BUILD)/core.a
	$(CC) $(CFLAGS) $^ -o $@ -lcriterion $(LIBRARIES)

# What the tests of daemon/net speak to: a server on it alone.
$(BUILD)/net_echo: $(call objects,tests/daemon/net/net_echo.c $(wildcard daemon/net/*.c) daemon/wire/frame.c)
	$(CC) $(CFLAGS) $^ -o $@ -lwebsockets -luv -luring -lssl -lcrypto

$(BUILD)/bench: $(call objects,$(BENCH) $(EDGE)) $(BUILD)/editions.o $(BUILD)/languages.o $(BUILD)/core.a
	$(CC) $(CFLAGS) $(LINKING) $^ -o $@ $(LIBRARIES)

$(BUILD)/bench_cards: $(call objects,$(BENCH_CARDS) $(EDGE)) $(BUILD)/editions.o $(BUILD)/languages.o $(BUILD)/core.a
	$(CC) $(CFLAGS) $(LINKING) $^ -o $@ $(LIBRARIES)

$(BUILD)/bench_archive: $(call objects,$(BENCH_ARCHIVE) $(EDGE)) $(BUILD)/editions.o $(BUILD)/languages.o $(BUILD)/core.a
	$(CC) $(CFLAGS) $(LINKING) $^ -o $@ $(LIBRARIES)

# The bare server that fan-out is measured against, and the clients of both.
$(call objects,$(BENCH_FANOUT)): STD := -std=gnu17 -D_GNU_SOURCE
$(FANOUT_PROGRAMS): $(BUILD)/bench_%: $(BUILD)/tests/bench/fanout/%.o $(BUILD)/tests/bench/fanout/subscriber.o
	$(CC) $(CFLAGS) $(LINKING) $^ -o $@ -lcrypto

# ---- fuzzing: tests/fuzz/fuzz.h ----
FUZZ_TARGETS := events editions sheets frames heads
FUZZ_SECONDS := 30
FUZZ_SHARED := tests/fuzz/shared.c $(EDGE)

# Plays the corpus back, with the tests' sanitizers.
$(BUILD)/replay_%: $(BUILD)/tests/fuzz/%.o $(call objects,tests/fuzz/replay.c $(FUZZ_SHARED)) \
	$(BUILD)/editions.o $(BUILD)/languages.o $(BUILD)/core.a
	$(CC) $(CFLAGS) $^ -o $@ $(LIBRARIES)

$(BUILD)/fuzz_%: $(BUILD)/tests/fuzz/%.o $(call objects,$(FUZZ_SHARED)) \
	$(BUILD)/editions.o $(BUILD)/languages.o $(BUILD)/core.a
	$(CC) $(CFLAGS) $^ -o $@ -fsanitize=fuzzer $(LIBRARIES)

# The whole daemon but for its sockets: with a net of the tests' own (tests/fuzz/messages.c).
SOCKETS := $(addprefix daemon/net/,answer.c connection.c input.c meeting.c net.c pages.c request.c tls.c send_batch.c)
FUZZ_MESSAGES := tests/fuzz/messages.c tests/fuzz/fake_net.c tests/fuzz/shared.c \
	$(filter-out $(SOCKETS),$(EDGE))
$(BUILD)/tests/fuzz/replay_alone.o: tests/fuzz/replay.c
	@mkdir -p $(@D)
	$(CC) $(STD) $(CFLAGS) -DWITHOUT_MAIN -c $< -o $@
$(BUILD)/replay_messages: $(call objects,$(FUZZ_MESSAGES)) $(BUILD)/tests/fuzz/replay_alone.o \
	$(BUILD)/editions.o $(BUILD)/languages.o $(BUILD)/core.a
	$(CC) $(CFLAGS) $^ -o $@ $(LIBRARIES)
$(BUILD)/fuzz_messages: $(call objects,$(FUZZ_MESSAGES)) \
	$(BUILD)/editions.o $(BUILD)/languages.o $(BUILD)/core.a
	$(CC) $(CFLAGS) $^ -o $@ -fsanitize=fuzzer-no-link \
		$(shell clang -print-file-name=libclang_rt.fuzzer_no_main-x86_64.a 2>/dev/null) -lstdc++ $(LIBRARIES)

.PHONY: fuzz replays
replays: $(addprefix $(BUILD)/replay_,$(FUZZ_TARGETS) messages)

fuzz: need-fuzz ## look for inputs that break something (FUZZ_SECONDS=30 each; new ones go to the corpus)
	@$(MAKE) --no-print-directory CC=clang BUILD=$(BUILD)/fuzz HARDENING=-fPIE \
		WARNINGS='-Wall -Wextra -Wno-gnu-zero-variadic-macro-arguments' \
		CFLAGS='-O1 -g -fsanitize=address,undefined,fuzzer-no-link -fno-sanitize-recover=undefined -DFUZZER' \
		$(addprefix $(BUILD)/fuzz/fuzz_,$(FUZZ_TARGETS) messages)
	@for target in $(FUZZ_TARGETS) messages; do \
		echo "== $$target"; mkdir -p $(BUILD)/fuzz/found/$$target; \
		$(BUILD)/fuzz/fuzz_$$target -max_total_time=$(FUZZ_SECONDS) -timeout=10 -rss_limit_mb=2048 \
			-print_final_stats=1 -artifact_prefix=$(BUILD)/fuzz/ \
			$(BUILD)/fuzz/found/$$target tests/fuzz/corpus/$$target 2>&1 | tail -12 || exit 1; \
	done

-include $(patsubst %.o,%.d,$(call objects,daemon/main.c tests/daemon/net/net_echo.c $(CORE) $(EDGE) $(UNIT) $(BENCH) $(BENCH_ARCHIVE) $(BENCH_CARDS) $(BENCH_FANOUT)))
