// Fuzz target: CSV records, learned from and replayed. The first byte chooses the options; then,
// each up to a NUL: the rows of orders, a mapping, rows of exposure.
#include "tests/fuzz/input.h"

namespace {

faultodds_records rows_of(const fuzz::Text& text) {
  faultodds_records records{};
  records.struct_size = sizeof records;
  records.text = text.data();
  records.text_len = text.size();
  return records;
}

int32_t count_rejects(void* context, const char* row, std::size_t length) {
  fuzz::demand(length > 0 && row[length - 1] == '\n', "a rejected row is a line");
  return ++*static_cast<int*>(context) > 100 ? 1 : 0;
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const fuzz::ProcessorTimeLimit limit;
  fuzz::Input input(data, size);
  const uint8_t choices = input.byte();
  const fuzz::Text orders = input.text(), mapping = input.text(), exposure = input.text();
  const fuzz::Text& circuit = fuzz::documents().circuit;
  const faultodds_records order_rows = rows_of(orders), exposure_rows = rows_of(exposure);
  char *pack = nullptr, *summary = nullptr;
  faultodds_error* error = nullptr;
  if ((choices & 1) != 0) {
    faultodds_backtest_options options{};
    options.struct_size = sizeof options;
    options.most_jobs = 20;
    if ((choices & 2) == 0) {  // else learned as the replay goes
      options.after = fuzz::documents().priors.data();
      options.after_len = fuzz::documents().priors.size();
    }
    if (!mapping.empty()) {
      options.mapping = mapping.data();
      options.mapping_len = mapping.size();
    }
    const faultodds_status status = faultodds_priors_backtest_json(
        circuit.data(), circuit.size(), &order_rows, &options, &pack, &error);
    fuzz::took(status, pack, error);
    return 0;
  }
  faultodds_learn_options options{};
  options.struct_size = sizeof options;
  options.source = "fuzz";
  options.source_len = 4;
  if (!mapping.empty()) {
    options.mapping = mapping.data();
    options.mapping_len = mapping.size();
  }
  options.no_pooling = (choices & 2) != 0;
  options.through_circuit = (choices & 4) != 0;
  options.learn_outcomes = (choices & 8) != 0;
  if ((choices & 12) != 0 || (choices & 16) != 0) {
    options.circuit = circuit.data();
    options.circuit_len = circuit.size();
  }
  int rejects = 0;
  if ((choices & 32) != 0) {
    options.reject = count_rejects;
    options.reject_context = &rejects;
  }
  const faultodds_status status = faultodds_priors_learn(
      &order_rows, exposure.empty() ? nullptr : &exposure_rows, &options, &pack, &summary, &error);
  if (status == FAULTODDS_OK) {
    fuzz::demand(nlohmann::json::accept(summary), "a summary is well-formed JSON");
    // What was learned is a pack that the library takes.
    faultodds_model* const model = fuzz::load(circuit, fuzz::Text(pack));
    fuzz::demand(model != nullptr, "a learned pack can be used");
    faultodds_model_free(model);
  }
  faultodds_free(summary);
  fuzz::took(status, pack, error);
  return 0;
}
