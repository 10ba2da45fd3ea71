# thrum: small filters for the records of people who join optical fibre.
# `make help` lists the targets. CC, CPPFLAGS, CFLAGS, LDFLAGS, LDLIBS, PREFIX and DESTDIR are yours.

VERSION = 0.1.0

CC ?= cc
CFLAGS ?= -O3 -g
PREFIX ?= /usr/local
BINDIR ?= $(PREFIX)/bin
MANDIR ?= $(PREFIX)/share/man
COMPLETIONDIR ?= $(PREFIX)/share/bash-completion/completions

# `make V=1` shows whole commands.
Q = $(if $(V),,@)
SAY = $(if $(V),@:,@echo)

# One folder for each set of flags, so that they never mix.
BUILD ?= build
# Other compilers warn of other things: .ci/run and `make lint` say -Werror, nobody else.
WERROR ?=
DEPS ?= yes

OUR_CPPFLAGS = -D_POSIX_C_SOURCE=200809L -D_FILE_OFFSET_BITS=64 \
	-DTHRUM_VERSION='"$(VERSION)"' -Ilib -I$(BUILD)/gen
# Products and sums are not fused, so that numbers are the same on every machine.
OUR_CFLAGS = -std=c11 -ffp-contract=off -Wall -Wextra -Wpedantic -Wshadow -Wstrict-prototypes \
	-Wmissing-prototypes -Wpointer-arith -Wcast-qual -Wwrite-strings -Wundef -Wvla -Wformat=2 \
	-Wno-missing-field-initializers $(WERROR)
DEPFLAGS = -MMD -MP

# What there is: a file in the right folder is all it takes to add one.
PROGRAMS := $(sort $(notdir $(basename $(wildcard cmd/*.c))))
LIB_C := $(sort $(wildcard lib/*/*.c))
TABLES := $(sort $(wildcard lib/*/*.tsv))
UNIT := $(sort $(notdir $(basename $(wildcard tests/unit/*.c tests/published/*.c))))
FUZZERS := $(sort $(notdir $(basename $(wildcard tests/fuzz/*.c))))
PAGES := $(sort $(wildcard man/*.[1-8]))

# Who needs a library beside ours.
ZLIB = -lz -lpthread
LIBS_thrum-import = -lcsv
LIBS_test_export = -lcsv
LIBS_test_map = -lcsv
LIBS_fuzz_import = -lcsv
LIBS_thrum-pack = $(ZLIB)
LIBS_thrum-unpack = $(ZLIB)
LIBS_test_pack = $(ZLIB)
LIBS_fuzz_unpack = $(ZLIB)
LIBS_fuzz_programs = -lcsv $(ZLIB)

# Tried once for each build folder, with the flags that all else is compiled with. Nothing: not at all.
LIBRARIES = $(BUILD)/libraries

LIB = $(BUILD)/libthrum.a
LIB_O = $(LIB_C:%.c=$(BUILD)/obj/%.o) $(TABLES:%.tsv=$(BUILD)/obj/%.o)
COMPILE = $(CC) $(OUR_CPPFLAGS) $(CPPFLAGS) $(OUR_CFLAGS) $(CFLAGS) $(DEPFLAGS)

all: $(PROGRAMS:%=$(BUILD)/bin/%)

$(BUILD)/bin/%: $(BUILD)/obj/cmd/%.o $(LIB)
	@mkdir -p $(@D)
	$(SAY) "LD $@"
	$(Q)$(CC) $(CFLAGS) $(LDFLAGS) -o $@ $< $(LIB) $(LIBS_$*) -lm $(LDLIBS)

$(LIBRARIES):
	@mkdir -p $(@D)
	@DEPS=$(DEPS) tests/deps.sh libraries $@ $(CC) $(CPPFLAGS) $(CFLAGS) $(LDFLAGS) -- -lcsv $(ZLIB) $(LDLIBS)

$(LIB_O) $(PROGRAMS:%=$(BUILD)/obj/cmd/%.o): | $(LIBRARIES)

$(LIB): $(LIB_O)
	$(SAY) "AR $@"
	@rm -f $@
	$(Q)$(AR) qcs $@ $(LIB_O)

$(BUILD)/obj/%.o: %.c
	@mkdir -p $(@D)
	$(SAY) "CC $<"
	$(Q)$(COMPILE) -c -o $@ $<

# A table of reference figures becomes a C array; see struct blob in lib/base/bytes.h.
$(BUILD)/obj/%.o: %.tsv
	@mkdir -p $(@D)
	@{ printf '#include "base/bytes.h"\nextern const struct blob %s_tsv;\n' $(*F); \
	printf 'static const unsigned char text[] = {\n'; \
	od -An -v -tu1 $< | sed 's/ *\([0-9][0-9]*\)/\1,/g'; \
	printf '};\nconst struct blob %s_tsv = { "%s.tsv", text, sizeof text };\n' $(*F) $(*F); \
	} > $(@:.o=.c)
	$(SAY) "CC $<"
	$(Q)$(COMPILE) -c -o $@ $(@:.o=.c)

# --- work with it --------------------------------------------------------------------------------

# One night of the demonstration network, from records to verdicts.
demo:
	@DEPS=$(DEPS) tests/deps.sh build
	@$(MAKE) --no-print-directory all
	@sh samples/demo.sh $(BUILD)/bin $(BUILD)/demo

install: all
	mkdir -p $(DESTDIR)$(BINDIR) $(DESTDIR)$(COMPLETIONDIR)
	install -m 755 $(PROGRAMS:%=$(BUILD)/bin/%) $(DESTDIR)$(BINDIR)
	for page in $(PAGES); do \
		mkdir -p $(DESTDIR)$(MANDIR)/man$${page##*.} && \
		install -m 644 $$page $(DESTDIR)$(MANDIR)/man$${page##*.} || exit 1; \
	done
	for program in $(PROGRAMS); do \
		install -m 644 cmd/completion.bash $(DESTDIR)$(COMPLETIONDIR)/$$program || exit 1; \
	done

uninstall:
	rm -f $(PROGRAMS:%=$(DESTDIR)$(BINDIR)/%) $(PROGRAMS:%=$(DESTDIR)$(COMPLETIONDIR)/%)
	for page in $(notdir $(PAGES)); do rm -f $(DESTDIR)$(MANDIR)/man$${page##*.}/$$page; done

# The same bytes from the same commit.
dist:
	@mkdir -p $(BUILD)
	git archive --format=tar --prefix=thrum-$(VERSION)/ HEAD | gzip -n9 >$(BUILD)/thrum-$(VERSION).tar.gz
	@echo $(BUILD)/thrum-$(VERSION).tar.gz

# --- tests ---------------------------------------------------------------------------------------

test check:
	@DEPS=$(DEPS) tests/deps.sh test
	@$(MAKE) --no-print-directory all unit
	@tests/run.sh $(BUILD)

unit: $(UNIT:%=$(BUILD)/tests/%) $(BUILD)/tests/faults.so

$(BUILD)/tests/%: $(BUILD)/obj/tests/unit/%.o $(LIB)
	@mkdir -p $(@D)
	$(SAY) "LD $@"
	$(Q)$(CC) $(CFLAGS) $(LDFLAGS) -o $@ $< $(LIB) $(LIBS_$*) -lm $(LDLIBS)

# GSL is the outside opinion of the published figures; nothing else uses it.
$(BUILD)/tests/%: $(BUILD)/obj/tests/published/%.o $(LIB)
	@mkdir -p $(@D)
	$(SAY) "LD $@"
	$(Q)$(CC) $(CFLAGS) $(LDFLAGS) -o $@ $< $(LIB) -lgsl -lgslcblas $(LIBS_$*) -lm $(LDLIBS)

# What lets a call of the system fail, preloaded by tests.
$(BUILD)/tests/faults.so: tests/faults/faults.c
	@mkdir -p $(@D)
	$(SAY) "LD $@"
	$(Q)$(CC) $(OUR_CFLAGS) -O1 -fPIC -shared -o $@ $< -ldl

# Every number there is time for: 100 million of them.
test-numbers: $(BUILD)/tests/test_num
	$(BUILD)/tests/test_num 100000000

SANITIZE = -fsanitize=address,undefined -fno-sanitize-recover=all -fno-omit-frame-pointer
san:
	@DEPS=$(DEPS) tests/deps.sh test
	@$(MAKE) --no-print-directory BUILD=$(BUILD)/san CFLAGS='-O1 -g $(SANITIZE)' all unit
	@tests/run.sh $(BUILD)/san

# Each fuzzer for so many seconds; what it finds stays in build/fuzz.
FUZZ_SECONDS ?= 60
fuzz:
	@DEPS=$(DEPS) tests/deps.sh lint
	@$(MAKE) --no-print-directory BUILD=$(BUILD)/fuzz CC=clang \
		CFLAGS='-O1 -g -fsanitize=fuzzer-no-link,address,undefined -fno-sanitize-recover=all' \
		fuzzers
	@tests/fuzz/seeds.sh $(BUILD)/fuzz/seeds/fuzz_programs
	@for f in $(FUZZERS); do \
		mkdir -p $(BUILD)/fuzz/corpus/$$f; \
		seeds=; \
		for dir in tests/fuzz/$$f $(BUILD)/fuzz/seeds/$$f; do [ ! -d $$dir ] || seeds="$$seeds $$dir"; done; \
		echo "fuzz $$f, $(FUZZ_SECONDS) s"; \
		ASAN_OPTIONS=allocator_release_to_os_interval_ms=-1:quarantine_size_mb=16 \
		$(BUILD)/fuzz/$$f -max_total_time=$(FUZZ_SECONDS) -rss_limit_mb=4096 \
			-artifact_prefix=$(abspath $(BUILD))/fuzz/ $(BUILD)/fuzz/corpus/$$f $$seeds \
			>$(BUILD)/fuzz/$$f.log 2>&1 || { tail -n 40 $(BUILD)/fuzz/$$f.log; exit 1; }; \
		grep '^Done' $(BUILD)/fuzz/$$f.log; \
	done

fuzzers: $(FUZZERS:%=$(BUILD)/%)

$(BUILD)/fuzz_%: $(BUILD)/obj/tests/fuzz/fuzz_%.o $(LIB)
	$(SAY) "LD $@"
	$(Q)$(CC) -fsanitize=fuzzer,address,undefined $(LDFLAGS) -o $@ $(filter %.o,$^) $(LIB) $(LIBS_fuzz_$*) -lm $(LDLIBS)

# The programs, to be called by their fuzzer as main_NAME.
$(BUILD)/fuzz_programs: $(PROGRAMS:thrum-%=$(BUILD)/obj/called/%.o)

$(BUILD)/obj/called/%.o: cmd/thrum-%.c | $(LIBRARIES)
	@mkdir -p $(@D)
	$(SAY) "CC $<"
	$(Q)$(COMPILE) -Dmain=main_$* -Wno-missing-prototypes -c -o $@ $<

# Lines covered by the tests, file by file. With CC=clang: GCOV='llvm-cov gcov'.
GCOV ?= gcov
coverage:
	@DEPS=$(DEPS) tests/deps.sh test
	@rm -rf $(BUILD)/coverage
	@$(MAKE) --no-print-directory BUILD=$(BUILD)/coverage CFLAGS='-O0 -g --coverage' all unit
	@tests/run.sh $(BUILD)/coverage; status=$$?; \
		tests/coverage.sh $(BUILD)/coverage $(GCOV) && exit $$status

# Warnings are errors here; a caller who says so already has built everything with them.
lint:
	@DEPS=$(DEPS) tests/deps.sh lint
	@$(MAKE) --no-print-directory BUILD=$(if $(WERROR),$(BUILD),$(BUILD)/lint) WERROR=-Werror all unit
	@tests/lint.sh

BENCH_ROWS ?= 10000000
bench:
	@DEPS=$(DEPS) tests/deps.sh bench
	@$(MAKE) --no-print-directory all $(BUILD)/bench/generate $(BUILD)/bench/pair
	@tests/bench/run.sh $(BUILD) $(BENCH_ROWS)

# How time and memory grow with the rows.
GROWTH_ROWS ?= 1000000 10000000
bench-growth: all $(BUILD)/bench/generate
	@tests/bench/growth.sh $(BUILD) $(GROWTH_ROWS)

# Two builds against each other: is no program slower in NEW than in OLD, both folders like build/?
PAIR_ROWS ?= 1000000
bench-pair:
	@[ -n "$(OLD)" ] || { echo "make bench-pair OLD=DIR [NEW=DIR]: folders with a bin/ each" >&2; exit 2; }
	@DEPS=$(DEPS) tests/deps.sh build
	@$(MAKE) --no-print-directory all $(BUILD)/bench/generate $(BUILD)/bench/pair
	@tests/bench/builds.sh $(BUILD) $(PAIR_ROWS) $(OLD) $(if $(NEW),$(NEW),$(BUILD))

$(BUILD)/bench/%: $(BUILD)/obj/tests/bench/%.o $(LIB)
	@mkdir -p $(@D)
	$(SAY) "LD $@"
	$(Q)$(CC) $(CFLAGS) $(LDFLAGS) -o $@ $< $(LIB) -lm $(LDLIBS)

# -------------------------------------------------------------------------------------------------

clean:
	rm -rf build

help:
	@echo 'make            build the programs in build/bin'
	@echo 'make demo       work through one night of the demonstration network'
	@echo 'make test       run every test (also: check)'
	@echo 'make san        run them again under AddressSanitizer and UBSan'
	@echo 'make fuzz       run each fuzzer for FUZZ_SECONDS (60)'
	@echo 'make coverage   run every test and say which lines of each file it covers'
	@echo 'make lint       check form, floors, scripts and pages'
	@echo 'make bench      measure against other tools on BENCH_ROWS (10000000) rows'
	@echo 'make bench-growth  time and memory on GROWTH_ROWS (1000000 10000000) rows'
	@echo 'make bench-pair OLD=DIR [NEW=DIR]   measure the build in NEW (this one) against that in OLD'
	@echo 'make test-numbers   100 million numbers against the C library'
	@echo 'make install    programs, pages, completion to PREFIX (/usr/local); uninstall'
	@echo 'make dist       a source archive'
	@echo 'make clean      remove build/'
	@echo 'DEPS=no installs nothing; V=1 shows commands; WERROR=-Werror makes warnings errors'

.PHONY: all demo install uninstall dist test check unit test-numbers san fuzz fuzzers coverage lint bench bench-growth bench-pair \
	clean help
.SECONDARY:
-include $(shell find $(BUILD)/obj -name '*.d' 2>/dev/null)
