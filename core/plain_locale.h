// The C library's locale "C" for the present thread and as long as this lives, around code of other
// libraries that reads or writes numbers by it. Other threads keep theirs, and no one sees a
// change: setlocale() of the host would be seen by all. Where there is no such thing (Windows,
// WebAssembly) it does nothing; our own numbers never need it (core/number_text.h).
#pragma once

#if defined(_WIN32) || defined(__EMSCRIPTEN__)

namespace faultodds {
class PlainLocale {
 public:
  PlainLocale() {}
  PlainLocale(const PlainLocale&) = delete;
  PlainLocale& operator=(const PlainLocale&) = delete;
};
}  // namespace faultodds

#else

#include <clocale>
#if __has_include(<xlocale.h>)  // macOS
#include <xlocale.h>
#endif

namespace faultodds {
class PlainLocale {
 public:
  PlainLocale() : plain_(newlocale(LC_ALL_MASK, "C", nullptr)) {
    if (plain_ != nullptr) before_ = uselocale(plain_);
  }
  ~PlainLocale() {
    if (plain_ == nullptr) return;
    uselocale(before_);
    freelocale(plain_);
  }
  PlainLocale(const PlainLocale&) = delete;
  PlainLocale& operator=(const PlainLocale&) = delete;

 private:
  locale_t plain_ = nullptr;
  locale_t before_ = nullptr;
};
}  // namespace faultodds

#endif
