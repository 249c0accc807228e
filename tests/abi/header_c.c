/* The public header stands alone in strict C99, and the layout of its structs is what callers were
 * compiled with. Sizes are those of 64-bit targets. */
#include "faultodds_network.h"

#define CHECK_AT_COMPILE_TIME(name, condition) typedef char name[(condition) ? 1 : -1]

CHECK_AT_COMPILE_TIME(status_is_32_bits, sizeof(faultodds_status) == 4);
CHECK_AT_COMPILE_TIME(options_first, offsetof(faultodds_model_options, struct_size) == 0);
CHECK_AT_COMPILE_TIME(options_memory, offsetof(faultodds_model_options, memory_budget) == 8);
CHECK_AT_COMPILE_TIME(options_class,
                      sizeof(void*) != 8 || offsetof(faultodds_model_options, asset_class) == 16);
CHECK_AT_COMPILE_TIME(options_cancel,
                      sizeof(void*) != 8 || offsetof(faultodds_model_options, cancel) == 32);
CHECK_AT_COMPILE_TIME(options_steps,
                      sizeof(void*) != 8 || offsetof(faultodds_model_options, search_steps) == 40);
CHECK_AT_COMPILE_TIME(options_size, sizeof(void*) != 8 || sizeof(faultodds_model_options) == 64);
CHECK_AT_COMPILE_TIME(learn_cancel,
                      sizeof(void*) != 8 || offsetof(faultodds_learn_options, cancel) == 144);
CHECK_AT_COMPILE_TIME(learn_size, sizeof(void*) != 8 || sizeof(faultodds_learn_options) == 160);
CHECK_AT_COMPILE_TIME(backtest_cancel,
                      sizeof(void*) != 8 || offsetof(faultodds_backtest_options, cancel) == 120);
CHECK_AT_COMPILE_TIME(test_first, offsetof(faultodds_ranked_test, struct_size) == 0);
CHECK_AT_COMPILE_TIME(test_observation,
                      sizeof(void*) != 8 || offsetof(faultodds_ranked_test, observation) == 8);
CHECK_AT_COMPILE_TIME(test_energised,
                      sizeof(void*) != 8 || offsetof(faultodds_ranked_test, energised) == 12);
CHECK_AT_COMPILE_TIME(test_bits, sizeof(void*) != 8 ||
                                     offsetof(faultodds_ranked_test, information_bits) == 16);
CHECK_AT_COMPILE_TIME(test_size, sizeof(void*) != 8 || sizeof(faultodds_ranked_test) == 48);
CHECK_AT_COMPILE_TIME(causes_first, offsetof(faultodds_causes, struct_size) == 0);
CHECK_AT_COMPILE_TIME(causes_components,
                      sizeof(void*) != 8 || offsetof(faultodds_causes, component_count) == 16);
CHECK_AT_COMPILE_TIME(causes_size, sizeof(void*) != 8 || sizeof(faultodds_causes) == 48);
CHECK_AT_COMPILE_TIME(format_is_32_bits, sizeof(faultodds_network_format) == 4);
CHECK_AT_COMPILE_TIME(evidence_first, offsetof(faultodds_network_evidence, struct_size) == 0);
CHECK_AT_COMPILE_TIME(evidence_variable,
                      sizeof(void*) != 8 || offsetof(faultodds_network_evidence, variable) == 8);
CHECK_AT_COMPILE_TIME(evidence_state,
                      sizeof(void*) != 8 || offsetof(faultodds_network_evidence, state) == 12);
CHECK_AT_COMPILE_TIME(evidence_likelihood,
                      sizeof(void*) != 8 || offsetof(faultodds_network_evidence, likelihood) == 16);
CHECK_AT_COMPILE_TIME(evidence_size,
                      sizeof(void*) != 8 || sizeof(faultodds_network_evidence) == 32);
CHECK_AT_COMPILE_TIME(statistics_first, offsetof(faultodds_network_statistics, struct_size) == 0);
CHECK_AT_COMPILE_TIME(statistics_entries,
                      sizeof(void*) != 8 || offsetof(faultodds_network_statistics, entries) == 16);
CHECK_AT_COMPILE_TIME(statistics_size,
                      sizeof(void*) != 8 || sizeof(faultodds_network_statistics) == 56);

int header_compiles_as_c99(void);
int header_compiles_as_c99(void) { return FAULTODDS_OK; }
