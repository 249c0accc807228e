/* The least a program can do with the installed library: its version and one refused call. */
#include <faultodds.h>
#include <stdio.h>
#include <string.h>

int main(void) {
  char* answer = NULL;
  char* error = NULL;
  const faultodds_status status =
      faultodds_assess_json("{}", 2, "{}", 2, NULL, 0, NULL, &answer, &error);
  const int good =
      status == FAULTODDS_INVALID_DOCUMENT && answer == NULL && strstr(error, "faultodds") != NULL;
  printf("%s %s\n", faultodds_version(), error);
  faultodds_free(error);
  return good ? 0 : 1;
}
