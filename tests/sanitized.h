// Whether a test runs under a sanitizer, which looks for other errors than wrong numbers: fewer
// random documents are enough there. Limits and expected values do not depend on it.
#pragma once

namespace tests {

#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
inline constexpr bool kSanitized = true;
#else
inline constexpr bool kSanitized = false;
#endif

}  // namespace tests
