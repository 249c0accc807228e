// One of several options chosen from what a line shows: log-linear, with weights that are known
// beforehand (the vocabulary's) and moved by what a person confirmed. The same answers give the
// same weights, whatever machine. It knows no words: what is shown are features by name.
#pragma once

#include <cstdint>
#include <map>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace faultodds::wording {

// Features, each once. `kind:word` tells of a word; what is not known of it is what is expected of
// `kind:*`. Names without a colon tell of the line as a whole.
using Shown = std::vector<std::string>;

struct Answer {
  Shown shown;
  std::uint32_t option = 0;
  double times = 1;
};

// What one feature says for an option, against the runner-up.
struct Deciding {
  std::string feature;
  double weight = 0;
};

class Choice {
 public:
  explicit Choice(std::size_t options) : options_(options) {}

  // Weight of a feature for an option before anybody answered. Throws nothing; the last one counts.
  void expect(const std::string& feature, std::uint32_t option, double weight);

  // The weights that are most probable given the answers, normal around those expected with the
  // standard deviations given: of words, and of lines as a whole. Lines that are asked about are
  // chosen, not drawn, so that what they have in common tells little of the others. Forgets answers
  // learned before.
  void learn(const std::vector<Answer>& answers, double word_spread, double line_spread);

  std::vector<double> probabilities(const Shown& shown) const;
  // Of the features shown, those that speak for `option` against the best other, heaviest first.
  std::vector<Deciding> deciding(const Shown& shown, std::uint32_t option) const;

  std::size_t options() const { return options_; }

 private:
  using Weights = std::map<std::string, std::vector<double>, std::less<>>;  // by option
  static const std::vector<double>* find(const Weights& weights, std::string_view feature);
  std::vector<double> scores(const Shown& shown) const;

  std::size_t options_;
  Weights expected_, weights_;
};

}  // namespace faultodds::wording
