/* Fuzzing: each target takes any bytes and holds what must always hold; a bug is an abort, or what
 * the sanitizers find. `make fuzz` looks for new inputs, coverage-guided; `make test` plays back
 * the corpus (tests/fuzz/corpus/TARGET), in which every input that was once a bug stays. */
#pragma once
#include <stddef.h>
#include <stdint.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* The shipped editions, read once. */
struct editions;
const struct editions *fuzz_editions(void);
struct language;
const struct language *fuzz_language(void);
/* What must hold; says what didn't. */
#define HOLDS(fact)                                                                                \
    do {                                                                                           \
        if (!(fact)) {                                                                             \
            fprintf(stderr, "%s:%d: doesn't hold: %s\n", __FILE__, __LINE__, #fact);               \
            abort();                                                                               \
        }                                                                                          \
    } while (0)
