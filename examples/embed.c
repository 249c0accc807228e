/* One case against one circuit: embed circuit.json case.json prints the assessment. */
#include <faultodds.h>
#include <stdio.h>

int main(int argc, char** argv) {
  static char circuit[1 << 20], work[1 << 16];
  FILE* first = argc == 3 ? fopen(argv[1], "rb") : NULL;
  FILE* second = argc == 3 ? fopen(argv[2], "rb") : NULL;
  if (first == NULL || second == NULL) return 2;
  char *answer = NULL, *error = NULL;
  faultodds_status status =
      faultodds_assess_json(circuit, fread(circuit, 1, sizeof circuit, first), work,
                            fread(work, 1, sizeof work, second), NULL, 0, NULL, &answer, &error);
  puts(status == FAULTODDS_OK ? answer : error);
  faultodds_free(answer);
  faultodds_free(error);
  return status == FAULTODDS_OK ? 0 : 1;
}
