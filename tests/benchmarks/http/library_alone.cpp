// What the library takes for the questions that question.lua asks, without HTTP: prints the
// microseconds of processor time of one.   library_alone CIRCUIT CASE COUNT   @ in CASE becomes
// another number each time
#include <faultodds.h>

#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <fstream>
#include <iterator>
#include <string>

namespace {

std::string text_of(const char* file) {
  std::ifstream in(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

double processor_seconds() {
  timespec now{};
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
  return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 4) return 2;
  const std::string circuit = text_of(argv[1]), pattern = text_of(argv[2]);
  const int count = std::atoi(argv[3]);
  const std::size_t at = pattern.find('@');
  if (at == std::string::npos) return 2;
  faultodds_model* model = nullptr;
  if (faultodds_model_load(circuit.data(), circuit.size(), nullptr, 0, nullptr, &model, nullptr) !=
      FAULTODDS_OK) {
    return 1;
  }
  const double begin = processor_seconds();
  for (int i = 1; i <= count; ++i) {
    std::string text = pattern;
    text.replace(at, 1, std::to_string(1 + i / 1e6));
    char* answer = nullptr;
    if (faultodds_model_assess_json(model, text.data(), text.size(), nullptr, &answer, nullptr) !=
        FAULTODDS_OK) {
      return 1;
    }
    faultodds_free(answer);
  }
  std::printf("%.2f\n", 1e6 * (processor_seconds() - begin) / count);
  faultodds_model_free(model);
}
