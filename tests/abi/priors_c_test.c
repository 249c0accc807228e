/* Prior packs and records through the C interface as a C99 program sees them. The records are
 * invented. */
#include <stdio.h>
#include <string.h>

#include "check.h"
#include "faultodds.h"

#define HEADER "work_order,closed,asset_class,component,finding,grade\r\n"

static const char* const kNorth = HEADER
    "N-1,2024-03-01,loader,port_relief,seat_leak,failed\r\n"
    "N-2,2024-03-05,loader,port_relief,none,\r\n"
    "N-3,2024-03-09,loader,port_relief,none,\r\n"
    "N-3,2024-03-09,loader,port_relief,none,\r\n" /* again */
    "N-4,2024-02-30,loader,port_relief,none,\r\n" /* no such day */
    "N-5,2024-03-10,loader,=cmd|' /c calc'!A1,none,\r\n";

static const char* const kSouth = HEADER
    "S-1,2024-04-01,loader,port_relief,seat_leak,worn\r\n"
    "S-2,2024-04-02,loader,port_relief,none,\r\n";

static faultodds_records text(const char* csv) {
  faultodds_records records;
  memset(&records, 0, sizeof records);
  records.struct_size = sizeof records;
  records.text = csv;
  records.text_len = strlen(csv);
  return records;
}

static faultodds_learn_options options(const char* source) {
  faultodds_learn_options o;
  memset(&o, 0, sizeof o);
  o.struct_size = sizeof o;
  o.source = source;
  o.source_len = strlen(source);
  return o;
}

static char* learn(const char* csv, const char* source) {
  faultodds_records orders = text(csv);
  faultodds_learn_options o = options(source);
  char* pack = NULL;
  faultodds_error* error = NULL;
  faultodds_status status = faultodds_priors_learn(&orders, NULL, &o, &pack, NULL, &error);
  if (status != FAULTODDS_OK) fprintf(stderr, "%s\n", faultodds_error_message(error));
  CHECK(status == FAULTODDS_OK && error == NULL && pack != NULL);
  return pack;
}

struct collected {
  char text[4096];
  size_t length;
  int calls;
};

static int32_t collect(void* context, const char* row, size_t length) {
  struct collected* rows = context;
  ++rows->calls;
  if (rows->length + length >= sizeof rows->text) return 1;
  memcpy(rows->text + rows->length, row, length);
  rows->length += length;
  rows->text[rows->length] = '\0';
  return 0;
}

static int32_t stop(void* context, uint64_t done) {
  ++*(int*)context;
  return done >= 1 ? 1 : 0;
}

static int32_t stop_at_reject(void* context, const char* row, size_t length) {
  (void)context;
  (void)row;
  return length > 0;
}

static void test_learning(void) {
  faultodds_records orders = text(kNorth), exposure;
  faultodds_learn_options o = options("north");
  static struct collected rejects;
  char *pack = NULL, *summary = NULL;
  faultodds_error* error = NULL;

  start("learning accounts for every row, and what is learned is a pack");
  exposure = text("component,in_service,hours\nport_relief,40,52000\nport_relief,-1,10\n");
  o.reject = collect;
  o.reject_context = &rejects;
  CHECK(faultodds_priors_learn(&orders, &exposure, &o, &pack, &summary, &error) == FAULTODDS_OK);
  CHECK(strstr(summary, "\"format\":\"faultodds-records-summary/1\"") != NULL);
  CHECK(strstr(summary,
               "\"work_orders\":{\"rows\":6,\"used\":3,\"rejected\":3,\"reasons\":{"
               "\"duplicate\":1,\"unknown_component\":1,\"impossible_date\":1}") != NULL);
  CHECK(strstr(summary, "\"exposure\":{\"rows\":2,\"used\":1,\"rejected\":1") != NULL);
  CHECK(rejects.calls == 4);
  CHECK(strstr(rejects.text, "2024-02-30") != NULL);
  CHECK(strstr(pack, "\"format\":\"faultodds-priors/1\"") != NULL);
  CHECK(strstr(pack, "\"rows_used\":4,\"rows_rejected\":4") != NULL);
  faultodds_free(summary);
  faultodds_free(pack);

  start("the audit names the latest orders of a mode, where it is asked for, and bounds how many");
  o = options("north");
  o.audit_orders = 1;
  CHECK(faultodds_priors_learn(&orders, NULL, &o, &pack, &summary, &error) == FAULTODDS_OK);
  CHECK(strstr(summary, "\"audit\":{\"orders_per_mode\":1,\"modes\":[{\"type\":\"port_relief\"") != NULL);
  CHECK(strstr(summary, "\"said\":\"failed\"}],\"left_out\":0}") != NULL);
  faultodds_free(summary);
  faultodds_free(pack);
  o.audit_orders = 1001;
  CHECK(faultodds_priors_learn(&orders, NULL, &o, &pack, &summary, &error) ==
        FAULTODDS_INVALID_ARGUMENT);
  CHECK(strcmp(faultodds_error_message(error),
               "options.audit_orders is 1001; expected at most 1000") == 0);
  faultodds_error_free(error);
  error = NULL;

  start("learning from a file without a row that can be used is refused, and says why");
  {
    static struct collected refused;
    faultodds_records nothing = text(HEADER
                                     "N-4,2024-02-30,loader,port_relief,none,\r\n"
                                     "N-5,2024-03-10,loader,pump_of_gold,none,\r\n");
    faultodds_records no_rows = text(HEADER);
    o = options("north");
    o.reject = collect;
    o.reject_context = &refused;
    pack = summary = (char*)1;
    CHECK_ERROR(faultodds_priors_learn(&nothing, NULL, &o, &pack, &summary, &error),
                FAULTODDS_INVALID_ARGUMENT,
                "no row of `orders` was used; expected one at least. It has 2 rows, "
                "unknown_component 1, impossible_date 1");
    CHECK(pack == NULL && summary == NULL && refused.calls == 2);
    CHECK_ERROR(faultodds_priors_learn(&no_rows, NULL, &o, &pack, &summary, &error),
                FAULTODDS_INVALID_ARGUMENT,
                "`orders` was used; expected one at least. It has 0 rows");
    exposure = text("component,in_service,hours\nport_relief,-1,10\n");
    CHECK_ERROR(faultodds_priors_learn(&orders, &exposure, &o, &pack, &summary, &error),
                FAULTODDS_INVALID_ARGUMENT, "no row of `exposure` was used");
  }

  start("learning is stopped by either callback");
  {
    int calls = 0;
    o = options("north");
    o.progress = stop;
    o.progress_context = &calls;
    CHECK_ERROR(faultodds_priors_learn(&orders, NULL, &o, &pack, &summary, &error),
                FAULTODDS_CANCELLED, "");
    CHECK(calls == 1 && pack == NULL && summary == NULL);
    o = options("north");
    o.reject = stop_at_reject;
    CHECK_ERROR(faultodds_priors_learn(&orders, NULL, &o, &pack, NULL, &error), FAULTODDS_CANCELLED,
                "line 5");
  }
}

static void test_wrong_arguments(void) {
  faultodds_records orders = text(kNorth);
  faultodds_learn_options o = options("north");
  faultodds_backtest_options b;
  char* out = NULL;
  faultodds_error* error = NULL;

  start("wrong arguments are named");
  CHECK_ERROR(faultodds_priors_learn(NULL, NULL, &o, &out, NULL, &error),
              FAULTODDS_INVALID_ARGUMENT, "orders");
  CHECK_ERROR(faultodds_priors_learn(&orders, NULL, NULL, &out, NULL, &error),
              FAULTODDS_INVALID_ARGUMENT, "options");
  CHECK_ERROR(faultodds_priors_learn(&orders, NULL, &o, NULL, NULL, &error),
              FAULTODDS_INVALID_ARGUMENT, "pack");
  o.struct_size = 3;
  CHECK_ERROR(faultodds_priors_learn(&orders, NULL, &o, &out, NULL, &error),
              FAULTODDS_INVALID_ARGUMENT, "options");
  o = options("");
  CHECK_ERROR(faultodds_priors_learn(&orders, NULL, &o, &out, NULL, &error),
              FAULTODDS_INVALID_ARGUMENT, "options.source");
  o = options("north");
  o.worth_jobs = -4;
  CHECK_ERROR(faultodds_priors_learn(&orders, NULL, &o, &out, NULL, &error),
              FAULTODDS_INVALID_ARGUMENT, "worth_jobs");
  o = options("north");
  orders.path = "x";
  orders.path_len = 1;
  CHECK_ERROR(faultodds_priors_learn(&orders, NULL, &o, &out, NULL, &error),
              FAULTODDS_INVALID_ARGUMENT, "both path and text");
  orders = text("");
  orders.text = NULL;
  CHECK_ERROR(faultodds_priors_learn(&orders, NULL, &o, &out, NULL, &error),
              FAULTODDS_INVALID_ARGUMENT, "neither path nor text");
  orders.path = "/nowhere/orders.csv";
  orders.path_len = strlen(orders.path);
  CHECK_ERROR(faultodds_priors_learn(&orders, NULL, &o, &out, NULL, &error),
              FAULTODDS_INVALID_ARGUMENT, "/nowhere/orders.csv");
  orders = text("work_order,closed,component\nN-1,2024-03-01,port_relief\n");
  CHECK_ERROR(faultodds_priors_learn(&orders, NULL, &o, &out, NULL, &error),
              FAULTODDS_INVALID_ARGUMENT, "finding");
  orders = text(kNorth);
  o.mapping = "{\"format\": \"faultodds-records/1\", \"colums\": {}}";
  o.mapping_len = strlen(o.mapping);
  CHECK_ERROR(faultodds_priors_learn(&orders, NULL, &o, &out, NULL, &error),
              FAULTODDS_INVALID_DOCUMENT, "colums");
  o = options("north");
  o.through_circuit = 1;
  CHECK_ERROR(faultodds_priors_learn(&orders, NULL, &o, &out, NULL, &error),
              FAULTODDS_INVALID_ARGUMENT, "no circuit to learn through");
  o = options("north");
  o.learn_outcomes = 1;
  CHECK_ERROR(faultodds_priors_learn(&orders, NULL, &o, &out, NULL, &error),
              FAULTODDS_INVALID_ARGUMENT, "no circuit to learn outcomes on");

  memset(&b, 0, sizeof b);
  b.struct_size = sizeof b;
  b.isolated = 0.2;
  CHECK_ERROR(faultodds_priors_backtest_json("{}", 2, &orders, &b, &out, &error),
              FAULTODDS_INVALID_ARGUMENT, "options.isolated");
  CHECK_ERROR(faultodds_priors_backtest_json("{}", 2, &orders, NULL, &out, &error),
              FAULTODDS_INVALID_DOCUMENT, "format");
  CHECK_ERROR(faultodds_priors_backtest_json(NULL, 0, &orders, NULL, &out, &error),
              FAULTODDS_INVALID_ARGUMENT, "circuit");
  CHECK(faultodds_priors_learn(NULL, NULL, NULL, &out, NULL, NULL) == FAULTODDS_INVALID_ARGUMENT);
  CHECK(out == NULL);
}

static void test_packs(void) {
  char *north = learn(kNorth, "north"), *south = learn(kSouth, "south");
  const char* both[2];
  size_t lengths[2];
  char *merged = NULL, *difference = NULL;
  faultodds_error* error = NULL;

  start("packs of two depots merge; the same records do not count twice");
  both[0] = north;
  both[1] = south;
  lengths[0] = strlen(north);
  lengths[1] = strlen(south);
  CHECK(faultodds_priors_merge(both, lengths, 2, NULL, &merged, &error) == FAULTODDS_OK);
  CHECK(strstr(merged, "\"id\":\"north\"") != NULL && strstr(merged, "\"id\":\"south\"") != NULL);
  both[1] = north;
  lengths[1] = lengths[0];
  {
    char* again = NULL;
    CHECK_ERROR(faultodds_priors_merge(both, lengths, 2, NULL, &again, &error),
                FAULTODDS_INVALID_PRIORS, "north");
    CHECK_ERROR(faultodds_priors_merge(both, lengths, 1, NULL, &again, &error),
                FAULTODDS_INVALID_ARGUMENT, "two or more");
    CHECK_ERROR(faultodds_priors_merge(NULL, NULL, 0, NULL, &again, &error),
                FAULTODDS_INVALID_ARGUMENT, "packs");
  }

  start("learning on from a pack that holds the records already is refused");
  {
    faultodds_records orders = text(kNorth);
    faultodds_learn_options o = options("north");
    char* again = NULL;
    o.judgement = north;
    o.judgement_len = strlen(north);
    CHECK_ERROR(faultodds_priors_learn(&orders, NULL, &o, &again, NULL, &error),
                FAULTODDS_INVALID_PRIORS, "north");
  }

  start("the difference says what changed and on how many jobs");
  CHECK(faultodds_priors_diff_json(NULL, 0, merged, strlen(merged), NULL, &difference, &error) ==
        FAULTODDS_OK);
  CHECK(strstr(difference, "\"format\":\"faultodds-priors-diff/1\"") != NULL);
  CHECK(strstr(difference, "\"type\":\"port_relief\",\"mode\":\"seat_leak\"") != NULL);
  CHECK(strstr(difference, "\"jobs\":5") != NULL);
  faultodds_free(difference);
  CHECK_ERROR(faultodds_priors_diff_json(NULL, 0, "{", 1, NULL, &difference, &error),
              FAULTODDS_INVALID_JSON, "");
  CHECK_ERROR(faultodds_priors_diff_json(NULL, 0, NULL, 0, NULL, &difference, &error),
              FAULTODDS_INVALID_ARGUMENT, "after");

  faultodds_free(north);
  faultodds_free(south);
  faultodds_free(merged);
}

#define FILE_NAME "Auftr\xc3\xa4ge-\xd0\xa6\xd0\xb5\xd1\x85.csv" /* in UTF-8 */
#ifdef _WIN32
#define WIDE_NAME L"Auftr\u00e4ge-\u0426\u0435\u0445.csv"
static FILE* create(void) { return _wfopen(WIDE_NAME, L"wb"); }
static int erase(void) { return _wremove(WIDE_NAME); }
#else
static FILE* create(void) { return fopen(FILE_NAME, "wb"); }
static int erase(void) { return remove(FILE_NAME); }
#endif

static void test_file_names(void) {
  faultodds_records orders = text("");
  faultodds_learn_options o = options("north");
  char* from_text = learn(kNorth, "north");
  char* from_file = NULL;
  faultodds_error* error = NULL;
  FILE* file = create();

  start("a file is found by its name in UTF-8");
  CHECK(file != NULL);
  CHECK(fwrite(kNorth, 1, strlen(kNorth), file) == strlen(kNorth));
  CHECK(fclose(file) == 0);
  orders.text = NULL;
  orders.path = FILE_NAME;
  orders.path_len = strlen(FILE_NAME);
  CHECK(faultodds_priors_learn(&orders, NULL, &o, &from_file, NULL, &error) == FAULTODDS_OK);
  CHECK(strcmp(from_file, from_text) == 0);
  faultodds_free(from_file);
  faultodds_free(from_text);
  CHECK(erase() == 0);
}

int main(void) {
  test_learning();
  test_file_names();
  test_wrong_arguments();
  test_packs();
  fprintf(stderr, "%d checks passed\n", checks);
  return 0;
}
