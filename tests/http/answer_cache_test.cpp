// Which answers are kept.
#include "bindings/http/answer_cache.h"

#include <catch2/catch.hpp>
#include <string>

using faultodds_http::AnswerCache;

namespace {

const int kAssessment = 0, kNote = 0;

std::shared_ptr<const std::string> text(std::size_t size) {
  return std::make_shared<const std::string>(size, 'x');
}

}  // namespace

TEST_CASE("An answer is found by circuit, kind of question and every byte of the case") {
  AnswerCache cache(100'000);
  const auto answer = text(100);
  cache.keep({1, &kAssessment, "case"}, answer);
  CHECK(cache.find({1, &kAssessment, "case"}) == answer);
  CHECK_FALSE(cache.find({2, &kAssessment, "case"}));
  CHECK_FALSE(cache.find({1, &kNote, "case"}));
  CHECK_FALSE(cache.find({1, &kAssessment, "case "}));
  CHECK(cache.numbers().hits == 1);
  CHECK(cache.numbers().misses == 3);
}

TEST_CASE("What was used longest ago makes room, and the bytes stay within the capacity") {
  AnswerCache cache(10'000);
  cache.keep({1, &kAssessment, "first"}, text(1000));
  for (int i = 0; i < 100; ++i) {
    cache.keep({1, &kAssessment, std::to_string(i)}, text(1000));
    CHECK(cache.find({1, &kAssessment, "first"}));
    CHECK(cache.find({1, &kAssessment, std::to_string(i)}));
    CHECK(cache.numbers().bytes <= 10'000);
  }
  CHECK(cache.numbers().answers == 7);
  CHECK_FALSE(cache.find({1, &kAssessment, "0"}));
}

TEST_CASE("An answer that would drive out most others is not kept, and without capacity none is") {
  AnswerCache cache(10'000), none(0);
  cache.keep({1, &kAssessment, "large"}, text(5000));
  none.keep({1, &kAssessment, "small"}, text(1));
  CHECK_FALSE(cache.find({1, &kAssessment, "large"}));
  CHECK_FALSE(none.find({1, &kAssessment, "small"}));
  CHECK(none.numbers().misses == 0);
}
