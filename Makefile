# thrum: small filters for the people who join optical fibre.
# `make help` lists the targets. CC, CPPFLAGS, CFLAGS, LDFLAGS, LDLIBS, PREFIX and DESTDIR are yours.

VERSION = 0.1.0

CC ?= cc
CFLAGS ?= -O2 -g
PREFIX ?= /usr/local
BINDIR ?= $(PREFIX)/bin
MANDIR ?= $(PREFIX)/share/man
COMPLETIONDIR ?= $(PREFIX)/share/bash-completion/completions

# `make V=1` shows whole commands.
Q = $(if $(V),,@)
SAY = $(if $(V),@:,@echo)

# One folder for each set of flags, so that they never mix.
BUILD ?= build
WERROR ?= -Werror
DEPS ?= yes

OUR_CPPFLAGS = -D_POSIX_C_SOURCE=200809L -D_FILE_OFFSET_BITS=64 \
	-DTHRUM_VERSION='"$(VERSION)"' -Ilib -I$(BUILD)/gen
OUR_CFLAGS = -std=c11 -Wall -Wextra -Wpedantic -Wshadow -Wstrict-prototypes -Wmissing-prototypes \
	-Wpointer-arith -Wcast-qual -Wwrite-strings -Wundef -Wvla -Wformat=2 \
	-Wno-missing-field-initializers $(WERROR)
DEPFLAGS = -MMD -MP

# What there is: a file in the right folder is all it takes to add one.
PROGRAMS := $(sort $(notdir $(basename $(wildcard cmd/*.c))))
LIB_C := $(sort $(wildcard lib/*/*.c))
TABLES := $(sort $(wildcard lib/*/*.tsv))
UNIT := $(sort $(notdir $(basename $(wildcard tests/unit/*.c tests/published/*.c))))
FUZZERS := $(sort $(notdir $(basename $(wildcard tests/fuzz/*.c))))
PAGES := $(sort $(wildcard man/*.[1-8]))

LIB = $(BUILD)/libthrum.a
LIB_O = $(LIB_C:%.c=$(BUILD)/obj/%.o) $(TABLES:%.tsv=$(BUILD)/obj/%.o)
COMPILE = $(CC) $(OUR_CPPFLAGS) $(CPPFLAGS) $(OUR_CFLAGS) $(CFLAGS) $(DEPFLAGS)

all: $(PROGRAMS:%=$(BUILD)/bin/%)

$(BUILD)/bin/%: $(BUILD)/obj/cmd/%.o $(LIB)
	@mkdir -p $(@D)
	$(SAY) "LD $@"
	$(Q)$(CC) $(CFLAGS) $(LDFLAGS) -o $@ $< $(LIB) $(LIBS_$*) -lm $(LDLIBS)

$(LIB): $(LIB_O)
	$(SAY) "AR $@"
	@rm -f $@
	$(Q)$(AR) rcs $@ $(LIB_O)

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

# --- tests -------------------------------------------------------------------------------------

# What GSL brings is for tests only.
$(BUILD)/tests/%: $(BUILD)/obj/tests/unit/%.o $(LIB)
	@mkdir -p $(@D)
	$(SAY) "LD $@"
	$(Q)$(CC) $(CFLAGS) $(LDFLAGS) -o $@ $< $(LIB) $(LIBS_$*) -lm $(LDLIBS)

$(BUILD)/tests/%: $(BUILD)/obj/tests/published/%.o $(LIB)
	@mkdir -p $(@D)
	$(SAY) "LD $@"
	$(Q)$(CC) $(CFLAGS) $(LDFLAGS) -o $@ $< $(LIB) -lgsl -lgslcblas $(LIBS_$*) -lm $(LDLIBS)

unit: $(UNIT:%=$(BUILD)/tests/%)

clean:
	rm -rf build

.PHONY: all unit clean
.SECONDARY:
-include $(shell find $(BUILD)/obj -name '*.d' 2>/dev/null)
