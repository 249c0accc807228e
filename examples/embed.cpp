// embed_cpp circuit.json case.json...: the circuit is compiled once; a note for each work order,
// cautions first.
#include <faultodds.h>

#include <fstream>
#include <iostream>
#include <iterator>
#include <memory>
#include <stdexcept>
#include <string>

std::string read(const char* name) {
  std::ifstream in(name, std::ios::binary);
  if (!in) throw std::runtime_error(std::string("cannot read ") + name);
  return {std::istreambuf_iterator<char>(in), {}};
}

// The error object of a call, thrown as an exception if the call failed.
struct Error {
  faultodds_error* it = nullptr;
  ~Error() { faultodds_error_free(it); }
  void check(faultodds_status status) const {
    if (status == FAULTODDS_OK) return;
    throw std::runtime_error(faultodds_error_pointer(it) + std::string(": ") +
                             faultodds_error_message(it));
  }
};

int main(int argc, char** argv) try {
  if (argc < 3) return 2;
  Error error;
  faultodds_model* loaded = nullptr;
  const std::string circuit = read(argv[1]);
  error.check(faultodds_model_load(circuit.data(), circuit.size(), nullptr, 0, nullptr, &loaded,
                                   &error.it));
  const std::unique_ptr<faultodds_model, decltype(&faultodds_model_free)> model(
      loaded, faultodds_model_free);
  for (int i = 2; i < argc; ++i) {
    const std::string work = read(argv[i]);
    char* note = nullptr;
    error.check(faultodds_model_note(model.get(), work.data(), work.size(), FAULTODDS_NOTE_TEXT,
                                     nullptr, &note, &error.it));
    std::cout << note;
    faultodds_free(note);
  }
} catch (const std::exception& problem) {
  std::cerr << problem.what() << '\n';
  return 1;
}
