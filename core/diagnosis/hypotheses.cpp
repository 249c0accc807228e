#include "core/diagnosis/hypotheses.h"

#include <algorithm>
#include <cmath>
#include <string>

#include "core/diagnosis/hypothesis_layout.h"
#include "core/diagnosis/hypothesis_search.h"
#include "core/diagnosis/program.h"
#include "core/error.h"

namespace faultodds::diagnosis {
namespace {

constexpr double kUnseen = 3;           // what is left out, over what the search reckons
constexpr double kWorthASample = 1e-3;  // of what the search reckons
constexpr std::size_t kOverhead = 96;   // bytes of one hypothesis besides what it holds
constexpr std::size_t kSeenBytes = 32;  // of one that is only known to have been seen

}  // namespace

class Hypotheses::Reserved {
 public:
  explicit Reserved(const Program& program) : program_(program) {}
  ~Reserved() {
    if (for_now_) {
      program_.give_back_from_now(bytes_);
    } else {
      program_.account().give_back(bytes_);
    }
  }
  Reserved(const Reserved&) = delete;
  Reserved& operator=(const Reserved&) = delete;
  void take_for_now(std::size_t bytes) {
    if (!program_.take_for_now(bytes)) {
      throw Error(Code::limit_exceeded, "the model's memory budget of " +
                                            std::to_string(program_.account().budget()) +
                                            " bytes does not suffice for the hypotheses");
    }
    bytes_ = bytes;
    for_now_ = true;
  }
  // Of what was taken.
  void keep(std::size_t bytes) {
    program_.give_back_from_now(bytes_ - bytes);
    bytes_ = bytes;
    for_now_ = false;
  }

 private:
  const Program& program_;
  std::size_t bytes_ = 0;
  bool for_now_ = false;
};

Hypotheses::~Hypotheses() = default;
Hypotheses::Hypotheses(Hypotheses&&) noexcept = default;

Hypotheses::Hypotheses(const Model& model, const CaseNumbers& numbers,
                       std::span<const std::uint32_t> complaint,
                       std::span<const std::uint32_t> asked, const Effort& effort) {
  Search search{*this, {}, {}};
  Layout layout{*this, model, numbers, search};
  layout.find_needed(complaint, asked);
  layout.choose_variables();
  layout.weigh_modes();
  layout.make_tables();
  reserved_ = std::make_unique<Reserved>(model.program());
  look(search, effort);
}

void Hypotheses::look(const Search& search, const Effort& effort) {
  // While it looks: what it has seen, what it keeps twice over, two beams, and the states of the
  // sample.
  const std::size_t one =
      sizeof(Search::One) + variables_ + search.seen.size() * sizeof(double) + kOverhead;
  const auto most = static_cast<std::size_t>(kMostComplete);
  const std::size_t looking =
      complete_ ? most * one
                : kMostSeen * kSeenBytes + (4 * effort.kept + 9 * effort.beam) * one +
                      (effort.kept + effort.sampled) * (variables_ + kOverhead);
  reserved_->take_for_now(looking);
  double all = 0, last = 0;
  std::vector<Search::One> found = complete_ ? search.all() : search.probable(effort, all, last);
  std::sort(found.begin(), found.end(), [](const Search::One& a, const Search::One& b) {
    return a.weight != b.weight ? a.weight > b.weight : a.classes < b.classes;
  });
  if (!complete_) {
    std::size_t kept = 0;
    while (kept < found.size() && kept < effort.kept &&
           found[kept].weight > kLeastWeight * found.front().weight) {
      ++kept;
    }
    found.resize(kept);
  }
  double total = 0;
  for (const Search::One& h : found) total += h.weight;
  if (!(total > 0)) {
    throw Error(Code::conflicting_evidence, "what was observed is impossible in this circuit");
  }
  log_evidence_ = std::log(total);
  for (const Search::One& h : found) {
    weight_.push_back(h.weight / total);
    classes_.insert(classes_.end(), h.classes.begin(), h.classes.end());
  }
  if (!complete_) {
    error_ = std::clamp(kUnseen * (all - total + last) / (all + last), 0.0, 1.0);
    log_evidence_error_ = -std::log1p(-std::min(error_, 1 - 1e-9));
    if (error_ > kWorthASample && effort.sampled > 0) sample(search, effort.sampled);
  }
  reserved_->keep(std::min(looking, weight_.size() * (sizeof(double) + variables_)));
}

double Hypotheses::at_most(std::size_t h, std::uint32_t o, std::size_t j, std::size_t t) const {
  const SetTable& table = tables_[first_set_[o] + j];
  return table.at_most[2 * entry(table, classes(h)) + t];
}

double Hypotheses::at_most(std::size_t h, std::uint32_t o, std::size_t t) const {
  double most = 1;
  for (std::size_t j = 0; j < sets_[o]; ++j) most *= at_most(h, o, j, t);
  return most;
}

const Grades& Hypotheses::free_grades(std::size_t h, std::uint32_t mode) const {
  const Free& of = free_[mode];
  std::size_t combination = 0;
  for (const std::uint32_t c : of.conditions) combination = combination * 2 + classes(h)[c];
  return of.grades[combination];
}

double Hypotheses::not_sound(std::size_t h, std::uint32_t mode) const {
  const Grades of = grades(h, mode);
  return of[1] + of[2];
}

Grades Hypotheses::grades(std::size_t h, std::uint32_t mode) const {
  const std::int32_t v = variable_of_mode_[mode];
  return v < 0 ? free_grades(h, mode) : grades_[static_cast<std::size_t>(v)][classes(h)[v]];
}

}  // namespace faultodds::diagnosis
