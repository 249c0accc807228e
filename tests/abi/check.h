/* What the C programs of this folder check with: CHECK, and CHECK_ERROR for a call that must fail.
 */
#ifndef FAULTODDS_TESTS_ABI_CHECK_H
#define FAULTODDS_TESTS_ABI_CHECK_H

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "faultodds.h"

static const char* phase = "";
static int checks = 0;

static void start(const char* name) {
  fprintf(stderr, "=== %s\n", name);
  phase = name;
}

static void check(int good, const char* condition, int line) {
  ++checks;
  if (good) return;
  fprintf(stderr, "line %d, in \"%s\": %s\n", line, phase, condition);
  abort();
}
#define CHECK(condition) check((condition), #condition, __LINE__)

/* The call must fail with `status`, an error that says so, and words in its message. */
static void check_error(faultodds_status got, faultodds_status expected, faultodds_error** error,
                        const char* words, int line) {
  if (got != expected || *error == NULL) {
    fprintf(stderr, "got status %d (%s): %s\n", (int)got, faultodds_status_name(got),
            faultodds_error_message(*error));
  }
  check(got == expected, "the status", line);
  check(*error != NULL, "an error object", line);
  check(faultodds_error_code(*error) == expected, "the code of the error object", line);
  if (strstr(faultodds_error_message(*error), words) == NULL) {
    fprintf(stderr, "message: %s\nexpected: %s\n", faultodds_error_message(*error), words);
  }
  check(strstr(faultodds_error_message(*error), words) != NULL, "the words of the message", line);
  faultodds_error_free(*error);
  *error = NULL;
}
#define CHECK_ERROR(call, status, words) check_error((call), (status), &error, (words), __LINE__)

#endif
