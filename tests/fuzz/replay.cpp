// Runs a fuzz target over the files of directories, once each: findings that were mended stay so,
// under any compiler. Usage: <target> DIRECTORY...
#include <algorithm>
#include <filesystem>

#include "tests/fuzz/input.h"

int main(int count, char** arguments) {
  std::vector<std::filesystem::path> files;
  for (int i = 1; i < count; ++i) {
    for (const auto& entry : std::filesystem::recursive_directory_iterator(arguments[i])) {
      if (entry.is_regular_file()) files.push_back(entry.path());
    }
  }
  std::sort(files.begin(), files.end());
  for (const auto& path : files) {
    std::printf("%s\n", path.filename().string().c_str());
    std::fflush(stdout);  // so that the file which ends the process is the last one named
    std::ifstream file(path, std::ios::binary);
    const std::vector<char> bytes{std::istreambuf_iterator<char>(file), {}};
    const fuzz::Text exact({bytes.data(), bytes.size()});
    LLVMFuzzerTestOneInput(reinterpret_cast<const std::uint8_t*>(exact.data()), exact.size());
  }
  std::printf("%zu inputs\n", files.size());
  fuzz::demand(!files.empty(), "there are inputs");
  return 0;
}
