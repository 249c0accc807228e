/* The C interface as a C99 program sees it: every function with good arguments, with NULL, with a
 * wrong size and with an index out of range. One program, checks in the order of the header. */
#include <math.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include "check.h"
#include "faultodds.h"

static const char* const kCircuit =
    "{\"format\":\"faultodds-circuit/1\",\"id\":\"press\",\"title\":\"Press ram\","
    "\"types\":{"
    " \"ram\":{\"ports\":[\"cap\",\"rod\"],"
    "  \"elements\":{\"piston_seal\":{\"kind\":\"seal\",\"from\":\"cap\",\"to\":\"rod\"},"
    "                \"rod_seal\":{\"kind\":\"seal\",\"from\":\"rod\",\"to\":\"outside\"}},"
    "  \"failure_modes\":{"
    "   \"piston_leak\":{\"code\":\"INL\",\"leaks\":[\"piston_seal\"],\"prior\":[0.9,0.07,0.03]},"
    "   \"rod_leak\":{\"code\":\"ELU\",\"leaks\":[\"rod_seal\"],\"prior\":[0.92,0.06,0.02]}},"
    "  \"actuator\":{\"directions\":{\"retract\":[\"cap\",\"rod\"],\"extend\":[\"rod\",\"cap\"]}}},"
    " \"block\":{\"ports\":[\"a\",\"b\",\"t\"],"
    "  \"elements\":{\"land_a\":{\"kind\":\"seal\",\"from\":\"a\",\"to\":\"t\"},"
    "                \"land_b\":{\"kind\":\"seal\",\"from\":\"b\",\"to\":\"t\"}},"
    "  \"failure_modes\":{\"bore_wear\":{\"code\":\"INL\",\"leaks\":[\"land_a\",\"land_b\"],"
    "   \"prior\":[0.95,0.04,0.01]}}}},"
    "\"components\":[{\"id\":\"ram\",\"type\":\"ram\",\"bore\":\"100 mm\",\"rod\":\"56 mm\"},"
    "                {\"id\":\"valve\",\"type\":\"block\"}],"
    "\"connections\":[{\"from\":\"valve.a\",\"to\":\"ram.cap\",\"line\":\"cap_hose\"},"
    "                 {\"from\":\"valve.b\",\"to\":\"ram.rod\",\"line\":\"rod_hose\"},"
    "                 {\"from\":\"valve.t\",\"to\":\"tank\"}]}";

static const char* const kCase =
    "{\"format\":\"faultodds-case/1\",\"detail\":\"full\",\"circuit\":\"press\","
    "\"observations\":[{\"observation\":\"drift/ram/retract\",\"outcome\":\"slow\"}]}";

static const char* const kPack =
    "{\"format\":\"faultodds-priors/1\",\"id\":\"ours\",\"modes\":["
    "{\"type\":\"block\",\"mode\":\"bore_wear\",\"grades\":[0.5,0.3,0.2]},"
    "{\"type\":\"block\",\"mode\":\"bore_wear\",\"asset_class\":\"old\",\"grades\":[0.2,0.3,0.5]}]"
    "}";

static faultodds_model* load(const char* pack, const faultodds_model_options* options) {
  faultodds_model* model = NULL;
  faultodds_error* error = NULL;
  faultodds_status status = faultodds_model_load(
      kCircuit, strlen(kCircuit), pack, pack == NULL ? 0 : strlen(pack), options, &model, &error);
  if (status != FAULTODDS_OK) fprintf(stderr, "%s\n", faultodds_error_message(error));
  CHECK(status == FAULTODDS_OK);
  CHECK(error == NULL);
  CHECK(model != NULL);
  return model;
}

static uint32_t observation_of(const faultodds_model* model, const char* id) {
  uint32_t index = 99;
  CHECK(faultodds_model_find(model, FAULTODDS_OBSERVATION, id, strlen(id), &index, NULL) ==
        FAULTODDS_OK);
  return index;
}

/* Of all tests that may be made, each with the setup that it still needs. */
static double minutes_of_all(faultodds_case* the_case) {
  uint32_t j;
  double minutes = 0;
  faultodds_case_summary summary;
  summary.struct_size = sizeof summary;
  CHECK(faultodds_case_read_summary(the_case, &summary, NULL) == FAULTODDS_OK);
  for (j = 0; j < summary.test_count; ++j) {
    faultodds_ranked_test test;
    test.struct_size = sizeof test;
    CHECK(faultodds_case_test(the_case, j, &test, NULL) == FAULTODDS_OK);
    minutes += test.minutes;
  }
  return minutes;
}

static void test_version_and_names(void) {
  char expected[32];
  start("version and status names");
  sprintf(expected, "%d.%d.%d", FAULTODDS_VERSION_MAJOR, FAULTODDS_VERSION_MINOR,
          FAULTODDS_VERSION_PATCH);
  CHECK(strcmp(faultodds_version(), expected) == 0);
  CHECK(strcmp(faultodds_status_name(FAULTODDS_OK), "ok") == 0);
  CHECK(strcmp(faultodds_status_name(FAULTODDS_INVALID_ARGUMENT), "invalid_argument") == 0);
  CHECK(strcmp(faultodds_status_name(FAULTODDS_INVALID_JSON), "invalid_json") == 0);
  CHECK(strcmp(faultodds_status_name(FAULTODDS_INVALID_DOCUMENT), "invalid_document") == 0);
  CHECK(strcmp(faultodds_status_name(FAULTODDS_INVALID_CIRCUIT), "invalid_circuit") == 0);
  CHECK(strcmp(faultodds_status_name(FAULTODDS_INVALID_CASE), "invalid_case") == 0);
  CHECK(strcmp(faultodds_status_name(FAULTODDS_INVALID_PRIORS), "invalid_priors") == 0);
  CHECK(strcmp(faultodds_status_name(FAULTODDS_CONFLICTING_EVIDENCE), "conflicting_evidence") == 0);
  CHECK(strcmp(faultodds_status_name(FAULTODDS_LIMIT_EXCEEDED), "limit_exceeded") == 0);
  CHECK(strcmp(faultodds_status_name(FAULTODDS_OUT_OF_MEMORY), "out_of_memory") == 0);
  CHECK(strcmp(faultodds_status_name(FAULTODDS_CANCELLED), "cancelled") == 0);
  CHECK(strcmp(faultodds_status_name(FAULTODDS_INTERNAL), "internal") == 0);
  CHECK(strcmp(faultodds_status_name(-1), "unknown") == 0);
  CHECK(strcmp(faultodds_status_name(12345), "unknown") == 0);
}

static void test_null_errors(void) {
  start("NULL is a good error and a good thing to free");
  CHECK(faultodds_error_code(NULL) == FAULTODDS_OK);
  CHECK(strcmp(faultodds_error_message(NULL), "") == 0);
  CHECK(strcmp(faultodds_error_pointer(NULL), "") == 0);
  faultodds_error_free(NULL);
  faultodds_free(NULL);
  faultodds_model_free(NULL);
  faultodds_case_free(NULL);
}

static void test_one_call(void) {
  char* answer = NULL;
  char* error = NULL;
  char dummy = 'x';
  start("the one call");
  CHECK(faultodds_assess_json(kCircuit, strlen(kCircuit), kCase, strlen(kCase), NULL, 0, NULL,
                              &answer, &error) == FAULTODDS_OK);
  CHECK(error == NULL);
  CHECK(strstr(answer, "\"format\":\"faultodds-assessment/1\"") != NULL);
  CHECK(strstr(answer, "\"complaint\":[\"drift/ram/retract\"]") != NULL);
  faultodds_free(answer);

  start("the one call with a pack, without an error pointer");
  CHECK(faultodds_assess_json(kCircuit, strlen(kCircuit), kCase, strlen(kCase), kPack,
                              strlen(kPack), NULL, &answer, NULL) == FAULTODDS_OK);
  faultodds_free(answer);

  start("the one call with bad arguments");
  answer = &dummy;
  CHECK(faultodds_assess_json(NULL, 5, kCase, strlen(kCase), NULL, 0, NULL, &answer, &error) ==
        FAULTODDS_INVALID_ARGUMENT);
  CHECK(answer == NULL);
  CHECK(strstr(error, "\"code\":\"invalid_argument\"") != NULL);
  CHECK(strstr(error, "circuit is NULL") != NULL);
  faultodds_free(error);
  error = &dummy;
  CHECK(faultodds_assess_json(kCircuit, strlen(kCircuit), kCase, strlen(kCase), NULL, 0, NULL, NULL,
                              &error) == FAULTODDS_INVALID_ARGUMENT);
  CHECK(strstr(error, "answer is NULL") != NULL);
  faultodds_free(error);
  CHECK(faultodds_assess_json(kCircuit, strlen(kCircuit), NULL, 1, NULL, 0, NULL, &answer,
                              &error) == FAULTODDS_INVALID_ARGUMENT);
  faultodds_free(error);
  CHECK(faultodds_assess_json(kCircuit, strlen(kCircuit), kCase, strlen(kCase), NULL, 7, NULL,
                              &answer, &error) == FAULTODDS_INVALID_ARGUMENT);
  faultodds_free(error);
  CHECK(faultodds_assess_json(kCircuit, (size_t)-1, kCase, strlen(kCase), NULL, 0, NULL, &answer,
                              &error) == FAULTODDS_INVALID_ARGUMENT);
  faultodds_free(error);
  CHECK(faultodds_assess_json(NULL, 0, kCase, strlen(kCase), NULL, 0, NULL, &answer, &error) ==
        FAULTODDS_INVALID_JSON);
  CHECK(strstr(error, "\"pointer\":\"/circuit\"") != NULL);
  faultodds_free(error);
  CHECK(faultodds_assess_json(kCircuit, strlen(kCircuit), kCase, strlen(kCase), "", 0, NULL,
                              &answer, &error) == FAULTODDS_INVALID_JSON);
  CHECK(strstr(error, "\"pointer\":\"/priors\"") != NULL);
  faultodds_free(error);
  CHECK(faultodds_assess_json(NULL, 0, NULL, 0, NULL, 0, NULL, NULL, NULL) ==
        FAULTODDS_INVALID_ARGUMENT);
}

static void test_model_load(void) {
  faultodds_model* model = NULL;
  faultodds_error* error = NULL;
  faultodds_model_options options;
  size_t size;
  start("loading a model with options");
  memset(&options, 0, sizeof options);
  options.struct_size = sizeof options;
  options.asset_class = "old";
  options.asset_class_len = 3;
  faultodds_model_free(load(kPack, &options));
  options.memory_budget = (uint64_t)1 << 28;
  options.asset_class = NULL;
  options.asset_class_len = 0;
  faultodds_model_free(load(NULL, &options));

  start("loading a model with a wrong struct_size");
  for (size = 0; size < sizeof options; ++size) {
    options.struct_size = size;
    CHECK_ERROR(faultodds_model_load(kCircuit, strlen(kCircuit), NULL, 0, &options, &model, &error),
                FAULTODDS_INVALID_ARGUMENT, "struct_size");
    CHECK(model == NULL);
  }
  options.struct_size = (size_t)-1;
  CHECK_ERROR(faultodds_model_load(kCircuit, strlen(kCircuit), NULL, 0, &options, &model, &error),
              FAULTODDS_INVALID_ARGUMENT, "struct_size");

  start("loading a model with bad arguments");
  options.struct_size = sizeof options;
  options.asset_class_len = 4;
  CHECK_ERROR(faultodds_model_load(kCircuit, strlen(kCircuit), NULL, 0, &options, &model, &error),
              FAULTODDS_INVALID_ARGUMENT, "asset_class is NULL");
  CHECK_ERROR(faultodds_model_load(NULL, 3, NULL, 0, NULL, &model, &error),
              FAULTODDS_INVALID_ARGUMENT, "circuit is NULL");
  CHECK_ERROR(faultodds_model_load(kCircuit, strlen(kCircuit), NULL, 3, NULL, &model, &error),
              FAULTODDS_INVALID_ARGUMENT, "priors_or_null is NULL");
  CHECK_ERROR(faultodds_model_load(kCircuit, strlen(kCircuit), NULL, 0, NULL, NULL, &error),
              FAULTODDS_INVALID_ARGUMENT, "model is NULL");
  CHECK(faultodds_model_load(kCircuit, strlen(kCircuit), NULL, 0, NULL, NULL, NULL) ==
        FAULTODDS_INVALID_ARGUMENT);

  start("an error of a document says where");
  CHECK(faultodds_model_load("{\"format\":7}", 12, NULL, 0, NULL, &model, &error) ==
        FAULTODDS_INVALID_DOCUMENT);
  CHECK(strcmp(faultodds_error_pointer(error), "/format") == 0);
  faultodds_error_free(error);
  CHECK_ERROR(faultodds_model_load(kCircuit, strlen(kCircuit), "{}", 2, NULL, &model, &error),
              FAULTODDS_INVALID_DOCUMENT, "in the prior pack: ");
}

static void test_names(void) {
  faultodds_model* model = load(NULL, NULL);
  faultodds_error* error = NULL;
  uint32_t index = 7;
  uint32_t i;
  const uint32_t modes = faultodds_model_count(model, FAULTODDS_MODE);
  const uint32_t observations = faultodds_model_count(model, FAULTODDS_OBSERVATION);
  const uint32_t components = faultodds_model_count(model, FAULTODDS_COMPONENT);
  start("counts and names");
  CHECK(components == 2);
  CHECK(strcmp(faultodds_model_id(model, FAULTODDS_COMPONENT, 0), "ram") == 0);
  CHECK(strcmp(faultodds_model_id(model, FAULTODDS_COMPONENT, 1), "valve") == 0);
  CHECK(modes == 3);
  CHECK(observations > 0);
  for (i = 0; i < modes; ++i) {
    const char* id = faultodds_model_id(model, FAULTODDS_MODE, i);
    CHECK(faultodds_model_find(model, FAULTODDS_MODE, id, strlen(id), &index, &error) ==
          FAULTODDS_OK);
    CHECK(error == NULL);
    CHECK(index == i);
  }
  for (i = 0; i < observations; ++i) {
    const char* id = faultodds_model_id(model, FAULTODDS_OBSERVATION, i);
    const uint32_t outcomes = faultodds_model_outcome_count(model, i);
    CHECK(faultodds_model_find(model, FAULTODDS_OBSERVATION, id, strlen(id), &index, &error) ==
          FAULTODDS_OK);
    CHECK(index == i);
    CHECK(outcomes == 3);
    CHECK(faultodds_model_outcome_id(model, i, outcomes - 1) != NULL);
    CHECK(faultodds_model_outcome_id(model, i, outcomes) == NULL);
  }
  i = observation_of(model, "drift/ram/retract");
  CHECK(strcmp(faultodds_model_outcome_id(model, i, 0), "none") == 0);

  start("counters");
  {
    faultodds_model_counters counters;
    faultodds_case* one = NULL;
    uint64_t answers = 0;
    memset(&counters, 0, sizeof counters);
    CHECK(faultodds_model_read_counters(model, &counters, &error) == FAULTODDS_INVALID_ARGUMENT);
    CHECK(strstr(faultodds_error_message(error), "struct_size") != NULL);
    faultodds_error_free(error);
    error = NULL;
    counters.struct_size = sizeof counters;
    CHECK(faultodds_case_open(model, &one, &error) == FAULTODDS_OK);
    i = observation_of(model, "drift/ram/retract");
    CHECK(faultodds_case_observe_outcome(one, i, 1, &error) == FAULTODDS_OK);
    CHECK(faultodds_case_assess(one, NULL, &error) == FAULTODDS_OK);
    CHECK(faultodds_model_read_counters(model, &counters, &error) == FAULTODDS_OK);
    answers = counters.by_tree + counters.by_tables + counters.by_products +
              counters.by_careful_products + counters.by_junction_tree + counters.by_bounded;
    CHECK(answers > 0);
    CHECK(counters.plans_made > 0);
    CHECK(counters.plans_kept > 0);
    CHECK(counters.plan_bytes > 0);
    CHECK(counters.bytes >= counters.plan_bytes);
    CHECK(counters.bytes <= counters.memory_budget);
    faultodds_case_free(one);
  }

  start("counts and names out of range");
  CHECK(faultodds_model_id(model, FAULTODDS_MODE, modes) == NULL);
  CHECK(faultodds_model_id(model, FAULTODDS_MODE, UINT32_MAX) == NULL);
  CHECK(faultodds_model_id(model, FAULTODDS_OBSERVATION, observations) == NULL);
  CHECK(faultodds_model_id(model, FAULTODDS_COMPONENT, components) == NULL);
  CHECK(faultodds_model_count(NULL, FAULTODDS_COMPONENT) == 0);
  CHECK(faultodds_model_id(NULL, FAULTODDS_COMPONENT, 0) == NULL);
  CHECK(faultodds_model_outcome_count(model, observations) == 0);
  CHECK(faultodds_model_outcome_id(model, observations, 0) == NULL);
  CHECK(faultodds_model_count(NULL, FAULTODDS_MODE) == 0);
  CHECK(faultodds_model_count(NULL, FAULTODDS_OBSERVATION) == 0);
  CHECK(faultodds_model_id(NULL, FAULTODDS_MODE, 0) == NULL);
  CHECK(faultodds_model_id(NULL, FAULTODDS_OBSERVATION, 0) == NULL);
  CHECK(faultodds_model_outcome_count(NULL, 0) == 0);
  CHECK(faultodds_model_outcome_id(NULL, 0, 0) == NULL);

  start("finding what is not there");
  index = 7;
  CHECK_ERROR(faultodds_model_find(model, FAULTODDS_MODE, "ram.piston_leek", 15, &index, &error),
              FAULTODDS_INVALID_ARGUMENT, "ram.piston_leak");
  CHECK(index == 0);
  CHECK_ERROR(faultodds_model_find(model, FAULTODDS_OBSERVATION, "drift/ram", 9, &index, &error),
              FAULTODDS_INVALID_ARGUMENT, "drift/ram/retract");
  CHECK_ERROR(faultodds_model_find(model, FAULTODDS_MODE, NULL, 0, &index, &error),
              FAULTODDS_INVALID_ARGUMENT, "unknown failure mode");
  CHECK_ERROR(faultodds_model_find(NULL, FAULTODDS_MODE, "x", 1, &index, &error),
              FAULTODDS_INVALID_ARGUMENT, "model is NULL");
  CHECK_ERROR(faultodds_model_find(model, FAULTODDS_MODE, "x", 1, NULL, &error),
              FAULTODDS_INVALID_ARGUMENT, "index is NULL");
  CHECK_ERROR(faultodds_model_find(model, FAULTODDS_MODE, NULL, 1, &index, &error),
              FAULTODDS_INVALID_ARGUMENT, "id is NULL");
  CHECK_ERROR(faultodds_model_find(NULL, FAULTODDS_OBSERVATION, "x", 1, &index, &error),
              FAULTODDS_INVALID_ARGUMENT, "model is NULL");
  CHECK_ERROR(faultodds_model_find(model, FAULTODDS_OBSERVATION, "x", 1, NULL, &error),
              FAULTODDS_INVALID_ARGUMENT, "index is NULL");
  CHECK_ERROR(faultodds_model_find(model, FAULTODDS_OBSERVATION, NULL, 1, &index, &error),
              FAULTODDS_INVALID_ARGUMENT, "id is NULL");
  faultodds_model_free(model);
}

static void test_model_documents(void) {
  faultodds_model* model = load(NULL, NULL);
  faultodds_error* error = NULL;
  char* text = NULL;
  char* again = NULL;
  start("the description of a model");
  CHECK(faultodds_model_describe_json(model, NULL, &text, &error) == FAULTODDS_OK);
  CHECK(strstr(text, "\"format\":\"faultodds-model/1\"") != NULL);
  CHECK(strstr(text, "\"mode\":\"ram.piston_leak\"") != NULL);
  CHECK(strstr(text, "\"ambiguity_groups\":") != NULL);
  faultodds_free(text);
  CHECK_ERROR(faultodds_model_describe_json(NULL, NULL, &text, &error), FAULTODDS_INVALID_ARGUMENT,
              "model is NULL");
  CHECK(text == NULL);
  CHECK_ERROR(faultodds_model_describe_json(model, NULL, NULL, &error), FAULTODDS_INVALID_ARGUMENT,
              "document is NULL");

  start("assessing a document against a model");
  CHECK(faultodds_model_assess_json(model, kCase, strlen(kCase), NULL, &text, &error) ==
        FAULTODDS_OK);
  CHECK(faultodds_model_assess_json(model, kCase, strlen(kCase), NULL, &again, NULL) ==
        FAULTODDS_OK);
  CHECK(strcmp(text, again) == 0);
  faultodds_free(text);
  faultodds_free(again);
  CHECK_ERROR(faultodds_model_assess_json(NULL, kCase, strlen(kCase), NULL, &text, &error),
              FAULTODDS_INVALID_ARGUMENT, "model is NULL");
  CHECK_ERROR(faultodds_model_assess_json(model, NULL, 1, NULL, &text, &error),
              FAULTODDS_INVALID_ARGUMENT, "case_document is NULL");
  CHECK_ERROR(faultodds_model_assess_json(model, kCase, strlen(kCase), NULL, NULL, &error),
              FAULTODDS_INVALID_ARGUMENT, "answer is NULL");
  CHECK_ERROR(faultodds_model_assess_json(model, "[]", 2, NULL, &text, &error),
              FAULTODDS_INVALID_DOCUMENT, "an object");
  CHECK(text == NULL);
  faultodds_model_free(model);
}

static void test_causes(void) {
  faultodds_model* model = load(NULL, NULL);
  faultodds_case* the_case = NULL;
  faultodds_error* error = NULL;
  faultodds_causes causes;
  double shares[8];
  uint32_t ends[8];
  uint32_t components[8];
  uint32_t i, j;
  double sum;
  faultodds_case_summary summary;
  const uint32_t drift = observation_of(model, "drift/ram/retract");
  const uint32_t hold = observation_of(model, "static/valve.b");
  CHECK(faultodds_case_open(model, &the_case, &error) == FAULTODDS_OK);
  memset(&summary, 0x55, sizeof summary);
  summary.struct_size = sizeof summary;
  memset(&causes, 0x55, sizeof causes);
  causes.struct_size = sizeof causes;

  start("causes before an assessment");
  CHECK_ERROR(faultodds_case_read_summary(the_case, &summary, &error), FAULTODDS_INVALID_ARGUMENT,
              "faultodds_case_assess");
  CHECK(summary.cause_count == 0);
  CHECK_ERROR(faultodds_case_causes(the_case, 0, &causes, &error), FAULTODDS_INVALID_ARGUMENT,
              "faultodds_case_assess");
  CHECK(causes.share_count == 0 && causes.component_count == 0);
  CHECK_ERROR(faultodds_case_shares(the_case, 0, shares, ends, 8, components, 8, &error),
              FAULTODDS_INVALID_ARGUMENT, "faultodds_case_assess");

  start("what is normal has no causes");
  CHECK(faultodds_case_observe_outcome(the_case, drift, 0, &error) == FAULTODDS_OK);
  CHECK(faultodds_case_assess(the_case, NULL, &error) == FAULTODDS_OK);
  CHECK(faultodds_case_read_summary(the_case, &summary, &error) == FAULTODDS_OK);
  CHECK(summary.cause_count == 0);
  CHECK_ERROR(faultodds_case_causes(the_case, 0, &causes, &error), FAULTODDS_INVALID_ARGUMENT,
              "rank is 0");

  start("the causes of a complaint, with their components");
  CHECK(faultodds_case_retract(the_case, drift, &error) == FAULTODDS_OK);
  CHECK(faultodds_case_observe_outcome(the_case, drift, 1, &error) == FAULTODDS_OK);
  CHECK(faultodds_case_observe_outcome(the_case, hold, 1, &error) == FAULTODDS_OK);
  CHECK(faultodds_case_assess(the_case, NULL, &error) == FAULTODDS_OK);
  CHECK(faultodds_case_read_summary(the_case, &summary, &error) == FAULTODDS_OK);
  CHECK(summary.cause_count == 1); /* an abnormal test is evidence where a symptom is abnormal */
  CHECK(faultodds_case_causes(the_case, 0, &causes, &error) == FAULTODDS_OK);
  CHECK(causes.struct_size == sizeof causes);
  CHECK(causes.observation == drift);
  CHECK(causes.share_count > 0 && causes.share_count <= 8);
  CHECK(causes.component_count >= causes.share_count && causes.component_count <= 8);
  CHECK(causes.elsewhere > 0 && causes.nothing > 0);
  CHECK(faultodds_case_shares(the_case, 0, shares, ends, causes.share_count, components,
                              (size_t)causes.component_count, &error) == FAULTODDS_OK);
  sum = causes.by_design + causes.elsewhere + causes.nothing;
  for (i = 0; i < causes.share_count; ++i) {
    const uint32_t begin = i == 0 ? 0 : ends[i - 1];
    CHECK(ends[i] > begin);
    for (j = begin; j < ends[i]; ++j) {
      CHECK(components[j] < faultodds_model_count(model, FAULTODDS_COMPONENT));
      if (j > begin) CHECK(components[j] > components[j - 1]);
    }
    if (i > 0) CHECK(shares[i] <= shares[i - 1]);
    sum += shares[i];
  }
  CHECK(ends[causes.share_count - 1] == causes.component_count);
  CHECK(fabs(sum - 1) < 1e-9);

  start("causes with bad arguments");
  CHECK_ERROR(faultodds_case_causes(the_case, 0, NULL, &error), FAULTODDS_INVALID_ARGUMENT,
              "causes is NULL");
  CHECK_ERROR(faultodds_case_causes(the_case, 1, &causes, &error), FAULTODDS_INVALID_ARGUMENT,
              "rank is 1");
  CHECK(causes.share_count == 0);
  causes.struct_size = sizeof causes - 1;
  CHECK_ERROR(faultodds_case_causes(the_case, 0, &causes, &error), FAULTODDS_INVALID_ARGUMENT,
              "struct_size");
  causes.struct_size = sizeof causes;
  CHECK(faultodds_case_causes(the_case, 0, &causes, &error) == FAULTODDS_OK);
  CHECK_ERROR(faultodds_case_shares(the_case, 0, NULL, ends, 8, components, 8, &error),
              FAULTODDS_INVALID_ARGUMENT, "probabilities is NULL");
  CHECK_ERROR(faultodds_case_shares(the_case, 0, shares, NULL, 8, components, 8, &error),
              FAULTODDS_INVALID_ARGUMENT, "ends is NULL");
  CHECK_ERROR(faultodds_case_shares(the_case, 0, shares, ends, 8, NULL, 8, &error),
              FAULTODDS_INVALID_ARGUMENT, "components is NULL");
  CHECK_ERROR(faultodds_case_shares(the_case, 0, shares, ends, causes.share_count - 1, components,
                                    8, &error),
              FAULTODDS_INVALID_ARGUMENT, "capacity is");
  CHECK_ERROR(faultodds_case_shares(the_case, 0, shares, ends, 8, components,
                                    (size_t)causes.component_count - 1, &error),
              FAULTODDS_INVALID_ARGUMENT, "component_capacity is");
  CHECK_ERROR(faultodds_case_shares(the_case, 1, shares, ends, 8, components, 8, &error),
              FAULTODDS_INVALID_ARGUMENT, "rank is 1");
  faultodds_case_free(the_case);
  faultodds_model_free(model);
}

static void test_case(void) {
  faultodds_model* model = load(NULL, NULL);
  faultodds_case* the_case = NULL;
  faultodds_error* error = NULL;
  char* text = NULL;
  char* document_text = NULL;
  double grades[9];
  faultodds_case_summary summary;
  double sure[3] = {0.1, 0.5, 0.4};
  double bad[3] = {0, 0, 0};
  size_t count = 7;
  uint32_t tests = 7;
  uint32_t i;
  int j;
  faultodds_ranked_test test;
  double before;
  const uint32_t drift = observation_of(model, "drift/ram/retract");
  const uint32_t hold = observation_of(model, "static/valve.a");
  const uint32_t beyond = faultodds_model_count(model, FAULTODDS_OBSERVATION);
  static const char* const entry =
      "{\"observation\":\"static/valve.b\",\"reading\":{\"leak_rate\":\"40 mL/min\"}}";

  start("opening a case");
  CHECK_ERROR(faultodds_case_open(NULL, &the_case, &error), FAULTODDS_INVALID_ARGUMENT,
              "model is NULL");
  CHECK(the_case == NULL);
  CHECK_ERROR(faultodds_case_open(model, NULL, &error), FAULTODDS_INVALID_ARGUMENT,
              "new_case is NULL");
  CHECK(faultodds_case_open(model, &the_case, &error) == FAULTODDS_OK);
  CHECK(error == NULL);

  start("results before an assessment");
  memset(&summary, 0x55, sizeof summary);
  summary.struct_size = sizeof summary;
  CHECK_ERROR(faultodds_case_read_summary(the_case, &summary, &error), FAULTODDS_INVALID_ARGUMENT,
              "faultodds_case_assess");
  CHECK(summary.struct_size == sizeof summary && summary.log_evidence == 0);
  CHECK_ERROR(faultodds_case_posteriors(the_case, grades, 9, &count, &error),
              FAULTODDS_INVALID_ARGUMENT, "faultodds_case_assess");
  CHECK(count == 0);
  memset(&test, 0x55, sizeof test);
  test.struct_size = sizeof test;
  CHECK_ERROR(faultodds_case_test(the_case, 0, &test, &error), FAULTODDS_INVALID_ARGUMENT,
              "faultodds_case_assess");
  CHECK(test.observation == 0);
  CHECK(test.minutes == 0);
  CHECK_ERROR(faultodds_case_answer_json(the_case, NULL, &text, &error), FAULTODDS_INVALID_ARGUMENT,
              "faultodds_case_assess");
  CHECK(text == NULL);

  start("a case without evidence has the priors");
  CHECK(faultodds_case_assess(the_case, NULL, &error) == FAULTODDS_OK);
  CHECK(faultodds_case_read_summary(the_case, &summary, &error) == FAULTODDS_OK);
  CHECK(strcmp(summary.method, "exact") == 0 && summary.error_bound == 0);
  CHECK(fabs(summary.log_evidence) < 1e-9);
  CHECK(faultodds_case_posteriors(the_case, grades, 9, &count, &error) == FAULTODDS_OK);
  CHECK(count == 9);
  faultodds_model_find(model, FAULTODDS_MODE, "ram.piston_leak", 15, &i, NULL);
  CHECK(fabs(grades[3 * i] - 0.9) < 1e-12);
  CHECK(fabs(grades[3 * i + 1] - 0.07) < 1e-12);
  CHECK(fabs(grades[3 * i + 2] - 0.03) < 1e-12);
  before = grades[3 * i];

  start("an outcome changes the odds and the document says the same");
  CHECK(faultodds_case_observe_outcome(the_case, drift, 1, &error) == FAULTODDS_OK);
  CHECK_ERROR(faultodds_case_read_summary(the_case, &summary, &error), FAULTODDS_INVALID_ARGUMENT,
              "faultodds_case_assess");
  CHECK(faultodds_case_assess(the_case, NULL, &error) == FAULTODDS_OK);
  CHECK(faultodds_case_posteriors(the_case, grades, 9, &count, NULL) == FAULTODDS_OK);
  CHECK(grades[3 * i] < before);
  for (j = 0; j < 3; ++j) {
    CHECK(fabs(grades[3 * j] + grades[3 * j + 1] + grades[3 * j + 2] - 1) < 1e-12);
  }
  CHECK(faultodds_case_answer_json(the_case, NULL, &text, &error) == FAULTODDS_OK);
  CHECK(faultodds_model_assess_json(model, kCase, strlen(kCase), NULL, &document_text, NULL) ==
        FAULTODDS_OK);
  CHECK(strcmp(text, document_text) == 0);
  CHECK(strstr(text, "\"because\":\"\"") == NULL);
  faultodds_free(text);
  faultodds_free(document_text);

  start("ranked tests, best first, those with an instrument under power last");
  CHECK(faultodds_case_read_summary(the_case, &summary, &error) == FAULTODDS_OK);
  tests = summary.test_count;
  CHECK(tests > 0);
  {
    int was_instrument = 0, instrument = 0;
    const char* id = NULL;
    double last = HUGE_VAL;
    for (j = 0; j < (int)tests; ++j) {
      test.struct_size = sizeof test;
      CHECK(faultodds_case_test(the_case, (uint32_t)j, &test, &error) == FAULTODDS_OK);
      CHECK(test.struct_size == sizeof test);
      CHECK(test.observation < beyond);
      CHECK(test.observation != drift);
      CHECK(test.information_bits >= 0);
      CHECK(test.minutes > 0);
      /* What an operator can look at comes with the rest; an instrument under power comes last. */
      id = faultodds_model_id(model, FAULTODDS_OBSERVATION, test.observation);
      instrument =
          test.energised && strncmp(id, "drift/", 6) != 0 && strncmp(id, "delivery/", 9) != 0;
      CHECK(instrument >= was_instrument);
      if (instrument == was_instrument) CHECK(test.bits_per_minute <= last);
      was_instrument = instrument;
      last = test.bits_per_minute;
    }
  }
  CHECK_ERROR(faultodds_case_test(the_case, tests, &test, &error), FAULTODDS_INVALID_ARGUMENT,
              "rank");
  CHECK_ERROR(faultodds_case_test(the_case, 0, NULL, &error), FAULTODDS_INVALID_ARGUMENT,
              "test is NULL");
  test.struct_size = sizeof test - 1;
  CHECK_ERROR(faultodds_case_test(the_case, 0, &test, &error), FAULTODDS_INVALID_ARGUMENT,
              "struct_size");
  test.struct_size = 0;
  CHECK_ERROR(faultodds_case_test(the_case, 0, &test, &error), FAULTODDS_INVALID_ARGUMENT,
              "struct_size");
  test.struct_size = 100000;
  CHECK_ERROR(faultodds_case_test(the_case, 0, &test, &error), FAULTODDS_INVALID_ARGUMENT,
              "struct_size");
  {
    struct {
      faultodds_ranked_test known;
      double added_later;
    } longer;
    longer.known.struct_size = sizeof longer;
    longer.added_later = 1;
    CHECK(faultodds_case_test(the_case, 0, &longer.known, &error) == FAULTODDS_OK);
    CHECK(longer.known.struct_size == sizeof longer);
    CHECK(longer.added_later == 0);
  }

  start("results with bad arguments");
  CHECK_ERROR(faultodds_case_posteriors(the_case, grades, 8, &count, &error),
              FAULTODDS_INVALID_ARGUMENT, "capacity is 8");
  CHECK(count == 0);
  CHECK_ERROR(faultodds_case_posteriors(the_case, NULL, 9, &count, &error),
              FAULTODDS_INVALID_ARGUMENT, "grades is NULL");
  CHECK_ERROR(faultodds_case_posteriors(the_case, grades, 9, NULL, &error),
              FAULTODDS_INVALID_ARGUMENT, "count is NULL");
  CHECK_ERROR(faultodds_case_posteriors(NULL, grades, 9, &count, &error),
              FAULTODDS_INVALID_ARGUMENT, "the_case is NULL");
  CHECK_ERROR(faultodds_case_read_summary(NULL, &summary, &error), FAULTODDS_INVALID_ARGUMENT,
              "the_case is NULL");
  CHECK_ERROR(faultodds_case_read_summary(the_case, NULL, &error), FAULTODDS_INVALID_ARGUMENT,
              "summary is NULL");
  summary.struct_size = 8;
  CHECK_ERROR(faultodds_case_read_summary(the_case, &summary, &error), FAULTODDS_INVALID_ARGUMENT,
              "summary->struct_size is 8");
  summary.struct_size = sizeof summary;
  test.struct_size = sizeof test;
  CHECK_ERROR(faultodds_case_test(NULL, 0, &test, &error), FAULTODDS_INVALID_ARGUMENT,
              "the_case is NULL");
  CHECK_ERROR(faultodds_case_answer_json(NULL, NULL, &text, &error), FAULTODDS_INVALID_ARGUMENT,
              "the_case is NULL");
  CHECK_ERROR(faultodds_case_answer_json(the_case, NULL, NULL, &error), FAULTODDS_INVALID_ARGUMENT,
              "answer is NULL");
  CHECK_ERROR(faultodds_case_assess(NULL, NULL, &error), FAULTODDS_INVALID_ARGUMENT,
              "the_case is NULL");
  CHECK(faultodds_case_answer_json(NULL, NULL, NULL, NULL) == FAULTODDS_INVALID_ARGUMENT);

  start("observing with bad arguments");
  CHECK_ERROR(faultodds_case_observe_outcome(NULL, drift, 0, &error), FAULTODDS_INVALID_ARGUMENT,
              "the_case is NULL");
  CHECK_ERROR(faultodds_case_observe_outcome(the_case, beyond, 0, &error),
              FAULTODDS_INVALID_ARGUMENT, "observation is");
  CHECK_ERROR(faultodds_case_observe_outcome(the_case, drift, 3, &error),
              FAULTODDS_INVALID_ARGUMENT, "outcome is 3");
  CHECK_ERROR(faultodds_case_observe_likelihood(NULL, drift, sure, &error),
              FAULTODDS_INVALID_ARGUMENT, "the_case is NULL");
  CHECK_ERROR(faultodds_case_observe_likelihood(the_case, drift, NULL, &error),
              FAULTODDS_INVALID_ARGUMENT, "likelihood is NULL");
  CHECK_ERROR(faultodds_case_observe_likelihood(the_case, beyond, sure, &error),
              FAULTODDS_INVALID_ARGUMENT, "observation is");
  CHECK_ERROR(faultodds_case_observe_likelihood(the_case, drift, bad, &error),
              FAULTODDS_INVALID_ARGUMENT, "above 0");
  bad[1] = -1;
  CHECK_ERROR(faultodds_case_observe_likelihood(the_case, drift, bad, &error),
              FAULTODDS_INVALID_ARGUMENT, "likelihood[1]");
  bad[1] = HUGE_VAL;
  CHECK_ERROR(faultodds_case_observe_likelihood(the_case, drift, bad, &error),
              FAULTODDS_INVALID_ARGUMENT, "likelihood[1]");
  bad[1] = NAN;
  CHECK_ERROR(faultodds_case_observe_likelihood(the_case, drift, bad, &error),
              FAULTODDS_INVALID_ARGUMENT, "likelihood[1]");
  CHECK_ERROR(faultodds_case_observe_json(NULL, entry, strlen(entry), NULL, &error),
              FAULTODDS_INVALID_ARGUMENT, "the_case is NULL");
  CHECK_ERROR(faultodds_case_observe_json(the_case, NULL, 1, NULL, &error),
              FAULTODDS_INVALID_ARGUMENT, "entry is NULL");
  CHECK_ERROR(faultodds_case_observe_json(the_case, "{", 1, NULL, &error), FAULTODDS_INVALID_JSON,
              "line 1");
  CHECK_ERROR(faultodds_case_observe_json(the_case, "{\"observation\":\"x\"}", 19, NULL, &error),
              FAULTODDS_INVALID_CASE, "unknown observation");
  CHECK_ERROR(faultodds_case_retract(NULL, drift, &error), FAULTODDS_INVALID_ARGUMENT,
              "the_case is NULL");
  CHECK_ERROR(faultodds_case_retract(the_case, beyond, &error), FAULTODDS_INVALID_ARGUMENT,
              "observation is");
  CHECK_ERROR(faultodds_case_setup_done(NULL, "lockout", 7, &error), FAULTODDS_INVALID_ARGUMENT,
              "the_case is NULL");
  CHECK_ERROR(faultodds_case_setup_done(the_case, "lokout", 6, &error), FAULTODDS_INVALID_ARGUMENT,
              "lockout");
  CHECK_ERROR(faultodds_case_setup_done(the_case, NULL, 1, &error), FAULTODDS_INVALID_ARGUMENT,
              "step is NULL");

  start("refused calls left the case as it was");
  CHECK(faultodds_case_read_summary(the_case, &summary, &error) == FAULTODDS_OK);
  tests = summary.test_count;

  start("likelihood, reading and setup");
  CHECK(faultodds_case_observe_likelihood(the_case, hold, sure, &error) == FAULTODDS_OK);
  CHECK(faultodds_case_observe_json(the_case, entry, strlen(entry), NULL, &error) == FAULTODDS_OK);
  CHECK(faultodds_case_assess(the_case, NULL, &error) == FAULTODDS_OK);
  before = minutes_of_all(the_case);
  CHECK(faultodds_case_setup_done(the_case, "lockout", 7, &error) == FAULTODDS_OK);
  CHECK(faultodds_case_assess(the_case, NULL, &error) == FAULTODDS_OK);
  CHECK(minutes_of_all(the_case) < before);

  start("taking everything back gives the priors again");
  CHECK(faultodds_case_retract(the_case, drift, &error) == FAULTODDS_OK);
  CHECK(faultodds_case_retract(the_case, hold, &error) == FAULTODDS_OK);
  CHECK(faultodds_case_retract(the_case, hold, &error) == FAULTODDS_OK);
  CHECK(faultodds_case_retract(the_case, observation_of(model, "static/valve.b"), &error) ==
        FAULTODDS_OK);
  CHECK(faultodds_case_assess(the_case, NULL, &error) == FAULTODDS_OK);
  CHECK(faultodds_case_read_summary(the_case, &summary, &error) == FAULTODDS_OK);
  CHECK(fabs(summary.log_evidence) < 1e-9);

  start("evidence that cannot be is refused, and taking some back mends it");
  sure[0] = 1, sure[1] = 0, sure[2] = 0;
  CHECK(faultodds_case_observe_likelihood(the_case, hold, sure, &error) == FAULTODDS_OK);
  sure[0] = 0, sure[2] = 1;
  CHECK(faultodds_case_observe_likelihood(the_case, hold, sure, &error) == FAULTODDS_OK);
  CHECK_ERROR(faultodds_case_assess(the_case, NULL, &error), FAULTODDS_CONFLICTING_EVIDENCE,
              "static/valve.a");
  CHECK_ERROR(faultodds_case_read_summary(the_case, &summary, &error), FAULTODDS_INVALID_ARGUMENT,
              "faultodds_case_assess");
  CHECK(faultodds_case_retract(the_case, hold, &error) == FAULTODDS_OK);
  CHECK(faultodds_case_assess(the_case, NULL, &error) == FAULTODDS_OK);

  start("a case outlives its model");
  faultodds_model_free(model);
  CHECK(faultodds_case_observe_outcome(the_case, drift, 2, &error) == FAULTODDS_OK);
  CHECK(faultodds_case_assess(the_case, NULL, &error) == FAULTODDS_OK);
  CHECK(faultodds_case_answer_json(the_case, NULL, &text, &error) == FAULTODDS_OK);
  faultodds_free(text);
  faultodds_case_free(the_case);
}

static void test_priors(void) {
  faultodds_model_options options;
  faultodds_model* plain = load(kPack, NULL);
  faultodds_model* old;
  faultodds_case* the_case = NULL;
  double grades[9];
  size_t count = 0;
  uint32_t mode = 0;
  char* answer = NULL;
  static const char* const of_class =
      "{\"format\":\"faultodds-case/1\",\"asset\":{\"class\":\"old\"}}";
  start("the asset class chooses among a pack's entries");
  memset(&options, 0, sizeof options);
  options.struct_size = sizeof options;
  options.asset_class = "old";
  options.asset_class_len = 3;
  old = load(kPack, &options);
  CHECK(faultodds_model_find(plain, FAULTODDS_MODE, "valve.bore_wear", 15, &mode, NULL) ==
        FAULTODDS_OK);
  CHECK(faultodds_case_open(plain, &the_case, NULL) == FAULTODDS_OK);
  CHECK(faultodds_case_assess(the_case, NULL, NULL) == FAULTODDS_OK);
  CHECK(faultodds_case_posteriors(the_case, grades, 9, &count, NULL) == FAULTODDS_OK);
  CHECK(fabs(grades[3 * mode] - 0.5) < 1e-12);
  faultodds_case_free(the_case);
  CHECK(faultodds_case_open(old, &the_case, NULL) == FAULTODDS_OK);
  CHECK(faultodds_case_assess(the_case, NULL, NULL) == FAULTODDS_OK);
  CHECK(faultodds_case_posteriors(the_case, grades, 9, &count, NULL) == FAULTODDS_OK);
  CHECK(fabs(grades[3 * mode] - 0.2) < 1e-12);
  faultodds_case_free(the_case);

  start("a case of another class than the model's is answered with a warning");
  CHECK(faultodds_model_assess_json(plain, of_class, strlen(of_class), NULL, &answer, NULL) ==
        FAULTODDS_OK);
  CHECK(strstr(answer, "asset class `old`") != NULL);
  faultodds_free(answer);
  CHECK(faultodds_model_assess_json(old, of_class, strlen(of_class), NULL, &answer, NULL) ==
        FAULTODDS_OK);
  CHECK(strstr(answer, "asset class `old`") == NULL);
  faultodds_free(answer);
  faultodds_model_free(plain);
  faultodds_model_free(old);
}

static const char* const kClosing =
    "{\"format\":\"faultodds-closing/1\",\"work_order\":\"7\",\"closed\":\"2026-03-31\","
    "\"found\":[{\"component\":\"valve\",\"mode\":\"bore_wear\",\"grade\":\"worn\"}],"
    "\"minutes\":95}";

static void test_notes(void) {
  char dummy = 'x';
  char* note = NULL;
  faultodds_error* error = NULL;
  faultodds_model* model = load(NULL, NULL);
  start("notes");
  CHECK(faultodds_model_note(model, kCase, strlen(kCase), FAULTODDS_NOTE_TEXT, NULL, &note,
                             &error) == FAULTODDS_OK);
  CHECK(error == NULL);
  CHECK(strstr(note, "Cautions") != NULL);
  CHECK(strstr(note, "Cautions") < strstr(note, "Suspects"));
  faultodds_free(note);
  CHECK(faultodds_model_note(model, kCase, strlen(kCase), FAULTODDS_NOTE_HTML, NULL, &note, NULL) ==
        FAULTODDS_OK);
  CHECK(strncmp(note, "<!DOCTYPE html>", 15) == 0);
  faultodds_free(note);

  start("notes with bad arguments");
  note = &dummy;
  CHECK(faultodds_model_note(model, kCase, strlen(kCase), 0, NULL, &note, &error) ==
        FAULTODDS_INVALID_ARGUMENT);
  CHECK(note == NULL);
  CHECK(strstr(faultodds_error_message(error), "format is 0") != NULL);
  faultodds_error_free(error);
  CHECK(faultodds_model_note(NULL, kCase, strlen(kCase), FAULTODDS_NOTE_TEXT, NULL, &note, NULL) ==
        FAULTODDS_INVALID_ARGUMENT);
  CHECK(faultodds_model_note(model, NULL, 3, FAULTODDS_NOTE_TEXT, NULL, &note, NULL) ==
        FAULTODDS_INVALID_ARGUMENT);
  CHECK(faultodds_model_note(model, kCase, strlen(kCase), FAULTODDS_NOTE_TEXT, NULL, NULL, NULL) ==
        FAULTODDS_INVALID_ARGUMENT);
  CHECK(faultodds_model_note(model, "{", 1, FAULTODDS_NOTE_TEXT, NULL, &note, NULL) ==
        FAULTODDS_INVALID_JSON);
  faultodds_model_free(model);
}

static void test_plans(void) {
  char dummy = 'x';
  char *plan = NULL, *again = NULL;
  faultodds_error* error = NULL;
  faultodds_cancel* cancel = NULL;
  faultodds_call_options options;
  faultodds_model* model = load(NULL, NULL);
  start("plans");
  CHECK(faultodds_model_plan(model, kCase, strlen(kCase), FAULTODDS_PLAN_JSON, NULL, &plan,
                             &error) == FAULTODDS_OK);
  CHECK(error == NULL);
  CHECK(strstr(plan, "\"format\":\"faultodds-plan/1\"") != NULL);
  CHECK(strstr(plan, "\"cautions\"") < strstr(plan, "\"tree\""));
  CHECK(faultodds_model_plan(model, kCase, strlen(kCase), FAULTODDS_PLAN_JSON, NULL, &again,
                             NULL) == FAULTODDS_OK);
  CHECK(strcmp(plan, again) == 0);
  faultodds_free(plan);
  faultodds_free(again);
  CHECK(faultodds_model_plan(model, kCase, strlen(kCase), FAULTODDS_PLAN_HTML, NULL, &plan, NULL) ==
        FAULTODDS_OK);
  CHECK(strncmp(plan, "<!DOCTYPE html>", 15) == 0);
  CHECK(strstr(plan, "class=\"cautions\"") < strstr(plan, "<svg"));
  faultodds_free(plan);

  start("plans with bad arguments");
  plan = &dummy;
  CHECK(faultodds_model_plan(model, kCase, strlen(kCase), 3, NULL, &plan, &error) ==
        FAULTODDS_INVALID_ARGUMENT);
  CHECK(plan == NULL);
  CHECK(strstr(faultodds_error_message(error), "format is 3") != NULL);
  faultodds_error_free(error);
  CHECK(faultodds_model_plan(NULL, kCase, strlen(kCase), FAULTODDS_PLAN_JSON, NULL, &plan, NULL) ==
        FAULTODDS_INVALID_ARGUMENT);
  CHECK(faultodds_model_plan(model, kCase, strlen(kCase), FAULTODDS_PLAN_JSON, NULL, NULL, NULL) ==
        FAULTODDS_INVALID_ARGUMENT);

  start("a plan that is ended before anything is ready");
  CHECK(faultodds_cancel_new(&cancel, NULL) == FAULTODDS_OK);
  faultodds_cancel_now(cancel);
  options.struct_size = sizeof options;
  options.cancel = cancel;
  CHECK(faultodds_model_plan(model, kCase, strlen(kCase), FAULTODDS_PLAN_JSON, &options, &plan,
                             NULL) == FAULTODDS_CANCELLED);
  CHECK(plan == NULL);
  faultodds_cancel_free(cancel);
  faultodds_model_free(model);
}

static void test_records(void) {
  char dummy = 'x';
  char* record = NULL;
  char* rows = NULL;
  faultodds_error* error = NULL;
  faultodds_model* model = load(NULL, NULL);
  start("records");
  CHECK(faultodds_model_close(model, kCase, strlen(kCase), kClosing, strlen(kClosing),
                              FAULTODDS_RECORD_JSON, NULL, &record, &error) == FAULTODDS_OK);
  CHECK(error == NULL);
  CHECK(strstr(record, "\"format\":\"faultodds-record/1\"") != NULL);
  faultodds_free(record);
  CHECK(faultodds_model_close(model, kCase, strlen(kCase), kClosing, strlen(kClosing),
                              FAULTODDS_RECORD_CSV, NULL, &rows, NULL) == FAULTODDS_OK);
  CHECK(strstr(rows, "7,1,,2026-03-31,") == rows);
  CHECK(strstr(rows, ",block,valve,bore_wear,worn,,95,drift/ram/retract=slow,\r\n") != NULL);
  CHECK(faultodds_model_close(model, kCase, strlen(kCase), kClosing, strlen(kClosing),
                              FAULTODDS_RECORD_CSV_HEADED, NULL, &record, NULL) == FAULTODDS_OK);
  CHECK(strncmp(record, "work_order,line,", 16) == 0);
  CHECK(strstr(record, rows) != NULL);
  faultodds_free(record);
  faultodds_free(rows);

  start("records with bad arguments");
  record = &dummy;
  CHECK(faultodds_model_close(model, kCase, strlen(kCase), kClosing, strlen(kClosing), 9, NULL,
                              &record, &error) == FAULTODDS_INVALID_ARGUMENT);
  CHECK(record == NULL);
  CHECK(strstr(faultodds_error_message(error), "format is 9") != NULL);
  faultodds_error_free(error);
  CHECK(faultodds_model_close(NULL, kCase, strlen(kCase), kClosing, strlen(kClosing),
                              FAULTODDS_RECORD_JSON, NULL, &record,
                              NULL) == FAULTODDS_INVALID_ARGUMENT);
  CHECK(faultodds_model_close(model, kCase, strlen(kCase), NULL, 1, FAULTODDS_RECORD_JSON, NULL,
                              &record, NULL) == FAULTODDS_INVALID_ARGUMENT);
  CHECK(faultodds_model_close(model, kCase, strlen(kCase), kClosing, strlen(kClosing),
                              FAULTODDS_RECORD_JSON, NULL, NULL,
                              NULL) == FAULTODDS_INVALID_ARGUMENT);
  CHECK(faultodds_model_close(model, kClosing, strlen(kClosing), kClosing, strlen(kClosing),
                              FAULTODDS_RECORD_JSON, NULL, &record,
                              &error) == FAULTODDS_INVALID_DOCUMENT);
  CHECK(strncmp(faultodds_error_pointer(error), "/case", 5) == 0);
  faultodds_error_free(error);
  faultodds_model_free(model);
}

int main(void) {
  test_version_and_names();
  test_null_errors();
  test_one_call();
  test_model_load();
  test_names();
  test_model_documents();
  test_notes();
  test_plans();
  test_records();
  test_case();
  test_causes();
  test_priors();
  fprintf(stderr, "PASS: %d checks\n", checks);
  return 0;
}
