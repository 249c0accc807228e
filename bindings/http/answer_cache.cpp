#include "bindings/http/answer_cache.h"

#include <cstring>
#include <utility>

namespace faultodds_http {
namespace {

// What an entry takes beside its texts: list node, map node, shared string. An estimate.
constexpr std::size_t bookkeeping = 256;

}  // namespace

std::string AnswerCache::key_of(const Question& question) {
  std::string key(sizeof(question.generation) + sizeof(question.kind), '\0');
  std::memcpy(key.data(), &question.generation, sizeof(question.generation));
  std::memcpy(key.data() + sizeof(question.generation), &question.kind, sizeof(question.kind));
  key += question.the_case;
  return key;
}

std::size_t AnswerCache::size_of(const Entry& entry) {
  return entry.key.size() + entry.answer->size() + bookkeeping;
}

std::shared_ptr<const std::string> AnswerCache::find(const Question& question) {
  if (capacity_ == 0) return nullptr;
  const std::string key = key_of(question);
  const std::lock_guard lock(mutex_);
  const auto found = found_.find(key);
  if (found == found_.end()) {
    ++numbers_.misses;
    return nullptr;
  }
  ++numbers_.hits;
  entries_.splice(entries_.begin(), entries_, found->second);
  return found->second->answer;
}

void AnswerCache::keep(const Question& question, std::shared_ptr<const std::string> answer) {
  if (capacity_ == 0) return;
  Entries one;
  one.push_back({key_of(question), std::move(answer)});
  const std::size_t size = size_of(one.front());
  // One answer never drives out all the others.
  if (size > capacity_ / 4) return;
  const std::lock_guard lock(mutex_);
  if (found_.contains(one.front().key)) return;  // another thread computed the same
  while (numbers_.bytes + size > capacity_) {
    numbers_.bytes -= size_of(entries_.back());
    found_.erase(entries_.back().key);
    entries_.pop_back();
  }
  found_.emplace(one.front().key, one.begin());
  entries_.splice(entries_.begin(), one);
  numbers_.bytes += size;
}

AnswerCache::Numbers AnswerCache::numbers() const {
  const std::lock_guard lock(mutex_);
  Numbers out = numbers_;
  out.answers = entries_.size();
  return out;
}

}  // namespace faultodds_http
