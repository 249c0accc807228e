/* Networks through the C interface as a C99 program sees them: every function with good arguments,
 * with NULL, with a wrong size and with an index out of range. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "check.h"
#include "faultodds_network.h"

/* The chest clinic of Lauritzen & Spiegelhalter 1988, JRSS B 50(2); parameters from memory. Values
 * below: exact enumeration; P(visit, dyspnoea) also in the tests of the R package gRain. */
static const char* const kBif =
    "network chest_clinic {\n}\n"
    "variable asia { type discrete [ 2 ] { yes, no }; }\n"
    "variable tuberculosis { type discrete [ 2 ] { yes, no }; }\n"
    "variable smoking { type discrete [ 2 ] { yes, no }; }\n"
    "variable lung { type discrete [ 2 ] { yes, no }; }\n"
    "variable bronchitis { type discrete [ 2 ] { yes, no }; }\n"
    "variable either { type discrete [ 2 ] { yes, no }; }\n"
    "variable xray { type discrete [ 2 ] { clear, shadow }; }\n"
    "variable dyspnoea { type discrete [ 2 ] { yes, no }; }\n"
    "probability ( asia ) { table 0.01, 0.99; }\n"
    "probability ( tuberculosis | asia ) { (yes) 0.05, 0.95; (no) 0.01, 0.99; }\n"
    "probability ( smoking ) { table 0.5, 0.5; }\n"
    "probability ( lung | smoking ) { (yes) 0.1, 0.9; (no) 0.01, 0.99; }\n"
    "probability ( bronchitis | smoking ) { (yes) 0.6, 0.4; (no) 0.3, 0.7; }\n"
    "probability ( either | tuberculosis, lung ) { default 1, 0; (no, no) 0, 1; }\n"
    "probability ( xray | either ) { (yes) 0.02, 0.98; (no) 0.95, 0.05; }\n"
    "probability ( dyspnoea | bronchitis, either ) { (yes, yes) 0.9, 0.1; (no, yes) 0.7, 0.3;\n"
    "  (yes, no) 0.8, 0.2; (no, no) 0.1, 0.9; }\n";

static const char* const kXmlBif =
    "<BIF VERSION=\"0.3\"><NETWORK><NAME>rain</NAME>"
    "<VARIABLE TYPE=\"nature\"><NAME>rain</NAME><OUTCOME>no</OUTCOME><OUTCOME>yes</OUTCOME>"
    "</VARIABLE><VARIABLE TYPE=\"nature\"><NAME>grass</NAME><OUTCOME>dry</OUTCOME>"
    "<OUTCOME>damp</OUTCOME><OUTCOME>wet</OUTCOME></VARIABLE>"
    "<DEFINITION><FOR>rain</FOR><TABLE>0.75 0.25</TABLE></DEFINITION>"
    "<DEFINITION><FOR>grass</FOR><GIVEN>rain</GIVEN><TABLE>0.5 0.3 0.2 0 0.2 0.8</TABLE>"
    "</DEFINITION></NETWORK></BIF>";

#ifdef FAULTODDS_NO_XMLBIF /* a library without that reader: the same network in the other format \
                            */
static const char* const kRain =
    "network rain { } variable rain { type discrete [ 2 ] { no, yes }; }\n"
    "variable grass { type discrete [ 3 ] { dry, damp, wet }; }\n"
    "probability ( rain ) { table 0.75, 0.25; }\n"
    "probability ( grass | rain ) { (no) 0.5, 0.3, 0.2; (yes) 0, 0.2, 0.8; }\n";
#define RAIN kRain, FAULTODDS_BIF
#else
#define RAIN kXmlBif, FAULTODDS_XMLBIF
#endif

static faultodds_network* load(const char* text, faultodds_network_format format) {
  faultodds_network* network = NULL;
  faultodds_error* error = NULL;
  faultodds_status status =
      faultodds_network_load(text, strlen(text), format, NULL, &network, &error);
  if (status != FAULTODDS_OK) fprintf(stderr, "%s\n", faultodds_error_message(error));
  CHECK(status == FAULTODDS_OK);
  CHECK(error == NULL);
  CHECK(network != NULL);
  return network;
}

static uint32_t variable(const faultodds_network* network, const char* name) {
  uint32_t index = 99;
  CHECK(faultodds_network_find_variable(network, name, strlen(name), &index, NULL) == FAULTODDS_OK);
  return index;
}

static faultodds_network_evidence is(const faultodds_network* network, const char* name,
                                     const char* state) {
  faultodds_network_evidence evidence;
  uint32_t index = 99;
  memset(&evidence, 0, sizeof evidence);
  evidence.struct_size = sizeof evidence;
  evidence.variable = variable(network, name);
  CHECK(faultodds_network_find_state(network, evidence.variable, state, strlen(state), &index,
                                     NULL) == FAULTODDS_OK);
  evidence.state = (int32_t)index;
  return evidence;
}

static faultodds_network_evidence likely(const faultodds_network* network, const char* name,
                                         const double* likelihood, size_t count) {
  faultodds_network_evidence evidence;
  memset(&evidence, 0, sizeof evidence);
  evidence.struct_size = sizeof evidence;
  evidence.variable = variable(network, name);
  evidence.state = -1;
  evidence.likelihood = likelihood;
  evidence.likelihood_count = count;
  return evidence;
}

static int near(double a, double b) { return fabs(a - b) < 5e-11; }

static void test_load(void) {
  faultodds_network* network = NULL;
  faultodds_error* error = NULL;
  faultodds_network_options options;
  const size_t length = strlen(kBif);
  start("loading a network");
  network = load(kBif, FAULTODDS_BIF);
  faultodds_network_free(network);
  faultodds_network_free(NULL);

  start("loading with bad arguments");
  CHECK_ERROR(faultodds_network_load(NULL, 3, FAULTODDS_BIF, NULL, &network, &error),
              FAULTODDS_INVALID_ARGUMENT, "text is NULL");
  CHECK(network == NULL);
  CHECK_ERROR(faultodds_network_load(kBif, length, FAULTODDS_BIF, NULL, NULL, &error),
              FAULTODDS_INVALID_ARGUMENT, "network is NULL");
  CHECK_ERROR(faultodds_network_load(kBif, length, 0, NULL, &network, &error),
              FAULTODDS_INVALID_ARGUMENT, "format is 0; expected FAULTODDS_BIF (1)");
  CHECK_ERROR(faultodds_network_load(kBif, length, 3, NULL, &network, &error),
              FAULTODDS_INVALID_ARGUMENT, "format is 3");
  CHECK(faultodds_network_load(NULL, 0, FAULTODDS_BIF, NULL, NULL, NULL) ==
        FAULTODDS_INVALID_ARGUMENT);

  start("a bad text is refused with its line");
  CHECK_ERROR(faultodds_network_load(NULL, 0, FAULTODDS_BIF, NULL, &network, &error),
              FAULTODDS_INVALID_DOCUMENT, "line 1: no variable is declared");
#ifdef FAULTODDS_NO_XMLBIF
  CHECK_ERROR(
      faultodds_network_load(kXmlBif, strlen(kXmlBif), FAULTODDS_XMLBIF, NULL, &network, &error),
      FAULTODDS_INVALID_ARGUMENT, "which this build of the library cannot read");
#else
  CHECK_ERROR(faultodds_network_load(kBif, length, FAULTODDS_XMLBIF, NULL, &network, &error),
              FAULTODDS_INVALID_DOCUMENT, "line 1: not well-formed XML");
#endif
  CHECK_ERROR(
      faultodds_network_load(kXmlBif, strlen(kXmlBif), FAULTODDS_BIF, NULL, &network, &error),
      FAULTODDS_INVALID_DOCUMENT, "line 1: `<BIF`; expected `network`");
  CHECK_ERROR(faultodds_network_load(kBif, length - 2, FAULTODDS_BIF, NULL, &network, &error),
              FAULTODDS_INVALID_DOCUMENT, "line 19: the end of the text");

  start("a budget that the network does not fit is refused with the bytes");
  options.struct_size = sizeof options;
  options.memory_budget = 200;
  options.cancel = NULL;
  CHECK_ERROR(faultodds_network_load(kBif, length, FAULTODDS_BIF, &options, &network, &error),
              FAULTODDS_LIMIT_EXCEEDED, "200 bytes");
  options.memory_budget = 400;
  CHECK_ERROR(faultodds_network_load(kBif, length, FAULTODDS_BIF, &options, &network, &error),
              FAULTODDS_LIMIT_EXCEEDED, "the memory budget is 400");
  CHECK(network == NULL);
}

static void test_names(void) {
  faultodds_network* network = load(kBif, FAULTODDS_BIF);
  faultodds_error* error = NULL;
  uint32_t index = 7, v, s;
  start("counts and names");
  CHECK(faultodds_network_variable_count(network) == 8);
  CHECK(faultodds_network_posterior_count(network) == 16);
  for (v = 0; v < 8; ++v) {
    const char* name = faultodds_network_variable_name(network, v);
    CHECK(faultodds_network_find_variable(network, name, strlen(name), &index, &error) ==
          FAULTODDS_OK);
    CHECK(error == NULL);
    CHECK(index == v);
    CHECK(faultodds_network_state_count(network, v) == 2);
    for (s = 0; s < 2; ++s) {
      const char* state = faultodds_network_state_name(network, v, s);
      CHECK(faultodds_network_find_state(network, v, state, strlen(state), &index, &error) ==
            FAULTODDS_OK);
      CHECK(index == s);
    }
    CHECK(faultodds_network_state_name(network, v, 2) == NULL);
  }
  CHECK(strcmp(faultodds_network_variable_name(network, 6), "xray") == 0);
  CHECK(strcmp(faultodds_network_state_name(network, 6, 1), "shadow") == 0);

  start("counts and names out of range");
  CHECK(faultodds_network_variable_name(network, 8) == NULL);
  CHECK(faultodds_network_variable_name(network, UINT32_MAX) == NULL);
  CHECK(faultodds_network_state_count(network, 8) == 0);
  CHECK(faultodds_network_state_name(network, 8, 0) == NULL);
  CHECK(faultodds_network_variable_count(NULL) == 0);
  CHECK(faultodds_network_variable_name(NULL, 0) == NULL);
  CHECK(faultodds_network_state_count(NULL, 0) == 0);
  CHECK(faultodds_network_state_name(NULL, 0, 0) == NULL);
  CHECK(faultodds_network_posterior_count(NULL) == 0);

  start("finding what is not there");
  index = 7;
  CHECK_ERROR(faultodds_network_find_variable(network, "brochitis", 9, &index, &error),
              FAULTODDS_INVALID_ARGUMENT, "did you mean `bronchitis`");
  CHECK(index == 0);
  CHECK_ERROR(faultodds_network_find_variable(NULL, "x", 1, &index, &error),
              FAULTODDS_INVALID_ARGUMENT, "network is NULL");
  CHECK_ERROR(faultodds_network_find_variable(network, "x", 1, NULL, &error),
              FAULTODDS_INVALID_ARGUMENT, "variable is NULL");
  CHECK_ERROR(faultodds_network_find_variable(network, NULL, 1, &index, &error),
              FAULTODDS_INVALID_ARGUMENT, "name is NULL");
  CHECK_ERROR(faultodds_network_find_state(network, 6, "clean", 5, &index, &error),
              FAULTODDS_INVALID_ARGUMENT, "unknown state `clean` of `xray`");
  CHECK_ERROR(faultodds_network_find_state(network, 8, "yes", 3, &index, &error),
              FAULTODDS_INVALID_ARGUMENT, "variable is 8; expected an index below 8");
  CHECK_ERROR(faultodds_network_find_state(NULL, 0, "yes", 3, &index, &error),
              FAULTODDS_INVALID_ARGUMENT, "network is NULL");
  CHECK_ERROR(faultodds_network_find_state(network, 0, "yes", 3, NULL, &error),
              FAULTODDS_INVALID_ARGUMENT, "state is NULL");
  CHECK_ERROR(faultodds_network_find_state(network, 0, NULL, 3, &index, &error),
              FAULTODDS_INVALID_ARGUMENT, "name is NULL");
  faultodds_network_free(network);
}

static void test_statistics(void) {
  faultodds_network* network = load(kBif, FAULTODDS_BIF);
  faultodds_error* error = NULL;
  faultodds_network_statistics statistics;
  size_t size;
  start("statistics");
  memset(&statistics, 0x55, sizeof statistics);
  statistics.struct_size = sizeof statistics;
  CHECK(faultodds_network_read_statistics(network, &statistics, &error) == FAULTODDS_OK);
  CHECK(statistics.struct_size == sizeof statistics);
  CHECK(statistics.cliques == 6);
  CHECK(statistics.dense_entries == 40);
  CHECK(statistics.largest_clique == 8);
  /* `either` is yes if `lung` or `tuberculosis` is: 4 combinations of the three can occur, and of
   * `either`, `lung` and `bronchitis` 6. */
  CHECK(statistics.entries == 34);
  CHECK(statistics.bytes > 34 * sizeof(double));
  CHECK(statistics.query_bytes > 34 * sizeof(double));

  start("statistics with bad arguments");
  for (size = 0; size < sizeof statistics; ++size) {
    statistics.struct_size = size;
    CHECK_ERROR(faultodds_network_read_statistics(network, &statistics, &error),
                FAULTODDS_INVALID_ARGUMENT, "struct_size");
  }
  statistics.struct_size = sizeof statistics;
  CHECK_ERROR(faultodds_network_read_statistics(NULL, &statistics, &error),
              FAULTODDS_INVALID_ARGUMENT, "network is NULL");
  CHECK(statistics.entries == 0);
  CHECK_ERROR(faultodds_network_read_statistics(network, NULL, &error), FAULTODDS_INVALID_ARGUMENT,
              "statistics is NULL");
  faultodds_network_free(network);
}

static void test_query(void) {
  faultodds_network* network = load(kBif, FAULTODDS_BIF);
  faultodds_error* error = NULL;
  faultodds_network_evidence evidence[3];
  const double shadow[2] = {0.1, 0.9};
  const double sure[2] = {0.0, 3.0};
  const double bad[2] = {0.5, -1.0};
  const double nothing[2] = {0.0, 0.0};
  const double endless[2] = {1.0, HUGE_VAL};
  const double strange[2] = {1.0, NAN};
  double p[17];
  double log_evidence = 1;
  size_t written = 7;
  start("a query without evidence gives the priors");
  p[16] = -7;
  CHECK(faultodds_network_query(network, NULL, 0, NULL, p, 17, &written, &log_evidence, &error) ==
        FAULTODDS_OK);
  CHECK(error == NULL);
  CHECK(written == 16);
  CHECK(p[16] == -7);
  CHECK(log_evidence == 0);
  CHECK(near(p[2], 0.0104));
  CHECK(near(p[6], 0.055));
  CHECK(near(p[8], 0.45));
  CHECK(fabs(p[13] - 0.110290) < 5e-7);
  CHECK(fabs(p[14] - 0.435971) < 5e-7);

  start("a query with a visit to Asia and dyspnoea");
  evidence[0] = is(network, "asia", "yes");
  evidence[1] = is(network, "dyspnoea", "yes");
  CHECK(faultodds_network_query(network, evidence, 2, NULL, p, 16, &written, &log_evidence,
                                &error) == FAULTODDS_OK);
  CHECK(near(exp(log_evidence), 0.004501375));
  CHECK(p[0] == 1);
  CHECK(fabs(p[2] - 0.087751) < 5e-7);
  CHECK(fabs(p[6] - 0.099525) < 5e-7);
  CHECK(fabs(p[8] - 0.811402) < 5e-7);
  CHECK(fabs(p[4] - 0.625920) < 5e-7);

  start("the same and a shadow");
  evidence[2] = is(network, "xray", "shadow");
  CHECK(faultodds_network_query(network, evidence, 3, NULL, p, 16, &written, &log_evidence,
                                &error) == FAULTODDS_OK);
  CHECK(near(exp(log_evidence), 0.00098822675));
  CHECK(near(p[2], 0.3917117200));
  CHECK(near(p[6], 0.4442705078));
  CHECK(near(p[8], 0.6288217760));

  start("a likelihood");
  evidence[0] = likely(network, "xray", shadow, 2);
  CHECK(faultodds_network_query(network, evidence, 1, NULL, p, 16, &written, &log_evidence,
                                &error) == FAULTODDS_OK);
  CHECK(fabs(exp(log_evidence) - 0.188232032) < 5e-10);
  CHECK(near(p[2], 0.0488418464));
  CHECK(near(p[6], 0.2582982263));
  CHECK(near(p[8], 0.4764023671));

  start("a likelihood of one state is that state, but for its size");
  evidence[0] = likely(network, "xray", sure, 2);
  CHECK(faultodds_network_query(network, evidence, 1, NULL, NULL, 0, &written, &log_evidence,
                                &error) == FAULTODDS_OK);
  CHECK(written == 0);
  CHECK(near(exp(log_evidence), 3 * 0.1102900400));

  start("impossible evidence names what conflicts and nothing else");
  evidence[0] = is(network, "either", "no");
  evidence[1] = is(network, "smoking", "yes");
  evidence[2] = is(network, "lung", "yes");
  written = 7;
  log_evidence = 7;
  CHECK(faultodds_network_query(network, evidence, 3, NULL, p, 16, &written, &log_evidence,
                                &error) == FAULTODDS_CONFLICTING_EVIDENCE);
  CHECK(written == 0);
  CHECK(log_evidence == 0);
  CHECK(strstr(faultodds_error_message(error), "`either` = `no`, `lung` = `yes`") != NULL);
  CHECK(strstr(faultodds_error_message(error), "smoking") == NULL);
  faultodds_error_free(error);
  evidence[0] = is(network, "lung", "no");
  CHECK_ERROR(
      faultodds_network_query(network, evidence, 3, NULL, p, 16, &written, &log_evidence, &error),
      FAULTODDS_CONFLICTING_EVIDENCE, "out: `lung` (every state is excluded)");

  start("a query after refused ones is as ever");
  CHECK(faultodds_network_query(network, NULL, 0, NULL, p, 16, &written, &log_evidence, &error) ==
        FAULTODDS_OK);
  CHECK(near(p[2], 0.0104));

  start("a query with bad arguments");
  CHECK_ERROR(faultodds_network_query(NULL, NULL, 0, NULL, p, 16, &written, &log_evidence, &error),
              FAULTODDS_INVALID_ARGUMENT, "network is NULL");
  CHECK(written == 0);
  CHECK_ERROR(
      faultodds_network_query(network, NULL, 1, NULL, p, 16, &written, &log_evidence, &error),
      FAULTODDS_INVALID_ARGUMENT, "evidence is NULL with count 1");
  CHECK_ERROR(
      faultodds_network_query(network, NULL, 0, NULL, p, 15, &written, &log_evidence, &error),
      FAULTODDS_INVALID_ARGUMENT, "capacity is 15; expected at least 16");
  CHECK_ERROR(
      faultodds_network_query(network, NULL, 0, NULL, NULL, 16, &written, &log_evidence, &error),
      FAULTODDS_INVALID_ARGUMENT, "posteriors is NULL");
  CHECK_ERROR(faultodds_network_query(network, NULL, 0, NULL, p, 16, NULL, &log_evidence, &error),
              FAULTODDS_INVALID_ARGUMENT, "written is NULL");
  CHECK_ERROR(faultodds_network_query(network, NULL, 0, NULL, p, 16, &written, NULL, &error),
              FAULTODDS_INVALID_ARGUMENT, "log_evidence is NULL");
#define CHECK_EVIDENCE(words)                                                                      \
  CHECK_ERROR(                                                                                     \
      faultodds_network_query(network, evidence, 2, NULL, p, 16, &written, &log_evidence, &error), \
      FAULTODDS_INVALID_ARGUMENT, words)
  evidence[0] = is(network, "asia", "yes");
  evidence[1] = is(network, "lung", "no");
  evidence[1].variable = 8;
  CHECK_EVIDENCE("evidence[1].variable is 8; expected an index below 8");
  evidence[1] = is(network, "lung", "no");
  evidence[1].state = 2;
  CHECK_EVIDENCE("evidence[1].state is 2; expected an index below 2 of `lung`");
  evidence[1].state = -2;
  CHECK_EVIDENCE("evidence[1].state is -2");
  evidence[1].state = -1;
  CHECK_EVIDENCE("evidence[1].likelihood is NULL with state -1");
  evidence[1] = likely(network, "lung", shadow, 2);
  evidence[1].state = 0;
  CHECK_EVIDENCE("evidence[1].likelihood is given besides state 0");
  evidence[1] = likely(network, "lung", shadow, 1);
  CHECK_EVIDENCE("evidence[1].likelihood_count is 1; expected 2, one per state of `lung`");
  evidence[1] = likely(network, "lung", bad, 2);
  CHECK_EVIDENCE("evidence[1].likelihood[1] is -1");
  evidence[1] = likely(network, "lung", endless, 2);
  CHECK_EVIDENCE("evidence[1].likelihood[1] is inf");
  evidence[1] = likely(network, "lung", strange, 2);
  CHECK_EVIDENCE("evidence[1].likelihood[1] is nan");
  evidence[1] = likely(network, "lung", nothing, 2);
  CHECK_EVIDENCE("evidence[1].likelihood is 0 throughout");
  evidence[1] = is(network, "lung", "no");
  evidence[1].struct_size = sizeof evidence[1] + 8;
  CHECK_EVIDENCE("evidence[1].struct_size is");
  evidence[0].struct_size = sizeof evidence[0] - 1;
  CHECK_EVIDENCE("evidence[0].struct_size is");
  evidence[0].struct_size = (size_t)1 << 40;
  CHECK_EVIDENCE("struct_size");

  start("evidence of a later header, longer than is known here");
  {
    struct {
      faultodds_network_evidence known;
      double added_later;
    } longer[2];
    memset(longer, 0x55, sizeof longer);
    longer[0].known = is(network, "asia", "yes");
    longer[1].known = is(network, "dyspnoea", "yes");
    longer[0].known.struct_size = longer[1].known.struct_size = sizeof longer[0];
    CHECK(faultodds_network_query(network, &longer[0].known, 2, NULL, p, 16, &written,
                                  &log_evidence, &error) == FAULTODDS_OK);
    CHECK(near(exp(log_evidence), 0.004501375));
  }
  faultodds_network_free(network);
}

static void test_case(void) {
  faultodds_network* network = load(RAIN);
  faultodds_network_case* the_case = NULL;
  faultodds_error* error = NULL;
  faultodds_network_evidence evidence;
  const double not_dry[3] = {0, 1, 0.5};
  double p[5];
  double log_evidence = 7;
  size_t written = 7;
  start("opening a case");
  CHECK_ERROR(faultodds_network_case_open(NULL, &the_case, &error), FAULTODDS_INVALID_ARGUMENT,
              "network is NULL");
  CHECK_ERROR(faultodds_network_case_open(network, NULL, &error), FAULTODDS_INVALID_ARGUMENT,
              "new_case is NULL");
  CHECK(faultodds_network_case_open(network, &the_case, &error) == FAULTODDS_OK);
  faultodds_network_case_free(NULL);

  start("posteriors before they are solved");
  CHECK_ERROR(faultodds_network_case_posterior(the_case, 0, p, 5, &written, &error),
              FAULTODDS_INVALID_ARGUMENT, "faultodds_network_case_solve");
  CHECK(written == 0);
  CHECK_ERROR(faultodds_network_case_posteriors(the_case, p, 5, &written, &error),
              FAULTODDS_INVALID_ARGUMENT, "faultodds_network_case_solve");

  start("evidence, solved and read");
  evidence = likely(network, "grass", not_dry, 3);
  CHECK(faultodds_network_case_observe(the_case, &evidence, &error) == FAULTODDS_OK);
  CHECK(faultodds_network_case_solve(the_case, NULL, &log_evidence, &error) == FAULTODDS_OK);
  /* 0.75 (0.3 + 0.5 * 0.2) and 0.25 (0.2 + 0.5 * 0.8) */
  CHECK(near(exp(log_evidence), 0.3 + 0.15));
  CHECK(faultodds_network_case_posterior(the_case, 0, p, 2, &written, &error) == FAULTODDS_OK);
  CHECK(written == 2);
  CHECK(near(p[1], 1.0 / 3));
  CHECK(faultodds_network_case_posteriors(the_case, p, 5, &written, &error) == FAULTODDS_OK);
  CHECK(written == 5);
  CHECK(near(p[1], 1.0 / 3));
  CHECK(p[2] == 0);

  start("more evidence multiplies, a change undoes the solution");
  evidence = is(network, "grass", "wet");
  CHECK(faultodds_network_case_observe(the_case, &evidence, &error) == FAULTODDS_OK);
  CHECK_ERROR(faultodds_network_case_posterior(the_case, 0, p, 2, &written, &error),
              FAULTODDS_INVALID_ARGUMENT, "faultodds_network_case_solve");
  CHECK(faultodds_network_case_solve(the_case, NULL, &log_evidence, &error) == FAULTODDS_OK);
  CHECK(near(exp(log_evidence), 0.5 * (0.15 + 0.2)));

  start("evidence that cannot be is refused, and taking it back mends it");
  evidence = is(network, "grass", "dry");
  CHECK(faultodds_network_case_observe(the_case, &evidence, &error) == FAULTODDS_OK);
  CHECK_ERROR(faultodds_network_case_solve(the_case, NULL, &log_evidence, &error),
              FAULTODDS_CONFLICTING_EVIDENCE, "`grass`");
  CHECK(log_evidence == 0);
  CHECK(faultodds_network_case_retract(the_case, variable(network, "grass"), &error) ==
        FAULTODDS_OK);
  CHECK(faultodds_network_case_retract(the_case, variable(network, "grass"), &error) ==
        FAULTODDS_OK);
  CHECK(faultodds_network_case_solve(the_case, NULL, &log_evidence, &error) == FAULTODDS_OK);
  CHECK(log_evidence == 0);
  CHECK(faultodds_network_case_posteriors(the_case, p, 5, &written, &error) == FAULTODDS_OK);
  CHECK(near(p[0], 0.75));

  start("a case with bad arguments");
  CHECK_ERROR(faultodds_network_case_observe(NULL, &evidence, &error), FAULTODDS_INVALID_ARGUMENT,
              "the_case is NULL");
  CHECK_ERROR(faultodds_network_case_observe(the_case, NULL, &error), FAULTODDS_INVALID_ARGUMENT,
              "evidence is NULL");
  evidence.struct_size = sizeof evidence - 1;
  CHECK_ERROR(faultodds_network_case_observe(the_case, &evidence, &error),
              FAULTODDS_INVALID_ARGUMENT, "evidence->struct_size");
  evidence = is(network, "grass", "wet");
  evidence.state = 3;
  CHECK_ERROR(faultodds_network_case_observe(the_case, &evidence, &error),
              FAULTODDS_INVALID_ARGUMENT, "evidence->state is 3");
  CHECK_ERROR(faultodds_network_case_retract(NULL, 0, &error), FAULTODDS_INVALID_ARGUMENT,
              "the_case is NULL");
  CHECK_ERROR(faultodds_network_case_retract(the_case, 2, &error), FAULTODDS_INVALID_ARGUMENT,
              "variable is 2; expected an index below 2");
  CHECK_ERROR(faultodds_network_case_solve(NULL, NULL, &log_evidence, &error),
              FAULTODDS_INVALID_ARGUMENT, "the_case is NULL");
  CHECK_ERROR(faultodds_network_case_solve(the_case, NULL, NULL, &error),
              FAULTODDS_INVALID_ARGUMENT, "log_evidence is NULL");
  CHECK(faultodds_network_case_solve(the_case, NULL, &log_evidence, &error) == FAULTODDS_OK);
  CHECK_ERROR(faultodds_network_case_posterior(NULL, 0, p, 2, &written, &error),
              FAULTODDS_INVALID_ARGUMENT, "the_case is NULL");
  CHECK_ERROR(faultodds_network_case_posterior(the_case, 2, p, 2, &written, &error),
              FAULTODDS_INVALID_ARGUMENT, "variable is 2");
  CHECK_ERROR(faultodds_network_case_posterior(the_case, 1, p, 2, &written, &error),
              FAULTODDS_INVALID_ARGUMENT, "capacity is 2; expected at least 3");
  CHECK_ERROR(faultodds_network_case_posterior(the_case, 0, NULL, 2, &written, &error),
              FAULTODDS_INVALID_ARGUMENT, "posterior is NULL");
  CHECK_ERROR(faultodds_network_case_posterior(the_case, 0, p, 2, NULL, &error),
              FAULTODDS_INVALID_ARGUMENT, "written is NULL");
  CHECK_ERROR(faultodds_network_case_posteriors(NULL, p, 5, &written, &error),
              FAULTODDS_INVALID_ARGUMENT, "the_case is NULL");
  CHECK_ERROR(faultodds_network_case_posteriors(the_case, p, 4, &written, &error),
              FAULTODDS_INVALID_ARGUMENT, "capacity is 4");
  CHECK_ERROR(faultodds_network_case_posteriors(the_case, NULL, 5, &written, &error),
              FAULTODDS_INVALID_ARGUMENT, "posteriors is NULL");
  CHECK_ERROR(faultodds_network_case_posteriors(the_case, p, 5, NULL, &error),
              FAULTODDS_INVALID_ARGUMENT, "written is NULL");

  start("a case outlives its network");
  evidence = is(network, "grass", "wet");
  faultodds_network_free(network);
  CHECK(faultodds_network_case_observe(the_case, &evidence, &error) == FAULTODDS_OK);
  CHECK(faultodds_network_case_solve(the_case, NULL, &log_evidence, &error) == FAULTODDS_OK);
  CHECK(faultodds_network_case_posterior(the_case, 0, p, 2, &written, &error) == FAULTODDS_OK);
  CHECK(near(p[1], 0.2 / 0.35));
  faultodds_network_case_free(the_case);
}

int main(void) {
  test_load();
  test_names();
  test_statistics();
  test_query();
  test_case();
  fprintf(stderr, "PASS: %d checks\n", checks);
  return 0;
}
