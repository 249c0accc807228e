// Answers given before, for the same question about the same bytes of a case on the same model.
// Callers that keep no state ask again: after a lost connection, on reload of a page, for several
// who look at one work order. What was used longest ago makes room. Safe from any number of
// threads.
//
// Nothing has to be invalidated: a generation belongs to one compiled circuit and is never given
// again, so a replaced circuit or prior pack leaves answers that nobody asks for.
#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <list>
#include <memory>
#include <mutex>
#include <string>
#include <string_view>
#include <unordered_map>

namespace faultodds_http {

class AnswerCache {
 public:
  // Bytes of all questions and answers together; 0 remembers nothing.
  explicit AnswerCache(std::size_t capacity) : capacity_(capacity) {}

  struct Question {
    std::uint64_t generation = 0;  // of the circuit
    const void* kind = nullptr;    // what is asked of it
    std::string_view the_case;     // every byte counts
  };

  std::shared_ptr<const std::string> find(const Question& question);
  void keep(const Question& question, std::shared_ptr<const std::string> answer);

  struct Numbers {
    std::uint64_t hits = 0, misses = 0;
    std::size_t answers = 0, bytes = 0;
  };
  Numbers numbers() const;

 private:
  struct Entry {
    std::string key;
    std::shared_ptr<const std::string> answer;
  };
  using Entries = std::list<Entry>;  // used last first

  static std::string key_of(const Question& question);
  static std::size_t size_of(const Entry& entry);

  std::size_t capacity_;
  mutable std::mutex mutex_;
  Entries entries_;
  std::unordered_map<std::string_view, Entries::iterator> found_;  // views of the entries' keys
  Numbers numbers_;
};

}  // namespace faultodds_http
