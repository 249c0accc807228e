/* One call of the library on documents in files, for who counts what it does: growth.py runs it under valgrind.
 *
 *   call_once assess CIRCUIT CASE         also check, expand, new, explain, compare, draw and, of a loaded circuit,
 *   call_once card CIRCUIT CASE           describe, screen, propose, note and "case drawing"
 *
 * A missing last document is left out. Prints the status and the length of the answer. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "faultodds_circuit.h"

struct document {
  char* text;
  size_t length;
};

static struct document read_file(const char* path) {
  struct document out = {NULL, 0};
  FILE* file = path == NULL ? NULL : fopen(path, "rb");
  if (file == NULL) return out;
  fseek(file, 0, SEEK_END);
  out.length = (size_t)ftell(file);
  rewind(file);
  out.text = malloc(out.length + 1);
  if (out.text != NULL) out.length = fread(out.text, 1, out.length, file);
  fclose(file);
  return out;
}

static faultodds_status of_documents(const char* kind, struct document a, struct document b, char** out) {
  if (strcmp(kind, "assess") == 0) {
    return faultodds_assess_json(a.text, a.length, b.text, b.length, NULL, 0, NULL, out, NULL);
  }
  if (strcmp(kind, "check") == 0) return faultodds_circuit_check_json(a.text, a.length, NULL, out, NULL);
  if (strcmp(kind, "expand") == 0) return faultodds_circuit_expand_json(a.text, a.length, NULL, out, NULL);
  if (strcmp(kind, "new") == 0) return faultodds_circuit_new_json(a.text, a.length, NULL, out, NULL);
  if (strcmp(kind, "explain") == 0) {
    return faultodds_circuit_explain_json(a.text, a.length, b.text, b.length, NULL, 0, NULL, out, NULL);
  }
  if (strcmp(kind, "compare") == 0) {
    return faultodds_circuit_diff_json(a.text, a.length, b.text, b.length, NULL, 0, NULL, out, NULL);
  }
  if (strncmp(kind, "draw", 4) == 0) {
    return faultodds_circuit_draw_svg(a.text, a.length, b.text, b.length, NULL, out, NULL);
  }
  return -1;
}

static faultodds_status of_model(const char* kind, struct document a, struct document b, char** out) {
  faultodds_model* model = NULL;
  faultodds_status status = faultodds_model_load(a.text, a.length, NULL, 0, NULL, &model, NULL);
  if (status == FAULTODDS_OK && strcmp(kind, "describe") == 0) {
    status = faultodds_model_describe_json(model, NULL, out, NULL);
  } else if (status == FAULTODDS_OK && strcmp(kind, "screen") == 0) {
    status = faultodds_model_describe_screen_json(model, NULL, out, NULL);
  } else if (status == FAULTODDS_OK && strcmp(kind, "propose") == 0) {
    status = faultodds_model_propose_json(model, b.text, b.length, NULL, 0, NULL, out, NULL);
  } else if (status == FAULTODDS_OK && strcmp(kind, "note") == 0) {
    status = faultodds_model_note(model, b.text, b.length, FAULTODDS_NOTE_HTML, NULL, out, NULL);
  } else if (status == FAULTODDS_OK && strcmp(kind, "card") == 0) {
    status = faultodds_model_plan(model, b.text, b.length, FAULTODDS_PLAN_HTML, NULL, out, NULL);
  } else if (status == FAULTODDS_OK) {
    status = faultodds_model_draw_svg(model, b.text, b.length, 360, NULL, 0, NULL, out, NULL);
  }
  faultodds_model_free(model);
  return status;
}

int main(int count, char** arguments) {
  struct document a, b;
  char* out = NULL;
  faultodds_status status;
  if (count < 3) return 2;
  a = read_file(arguments[2]);
  b = read_file(count > 3 ? arguments[3] : NULL);
  status = of_documents(arguments[1], a, b, &out);
  if (status == -1) status = of_model(arguments[1], a, b, &out);
  printf("%d %lu\n", (int)status, (unsigned long)(out == NULL ? 0 : strlen(out)));
  faultodds_free(out);
  free(a.text);
  free(b.text);
  return 0;
}
