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

using Shown = std::vector<std::string>;  // features, each once

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
  // standard deviation `spread`. Forgets answers learned before.
  void learn(const std::vector<Answer>& answers, double spread);

  std::vector<double> probabilities(const Shown& shown) const;
  // Of the features shown, those that speak for `option` against the best other, heaviest first.
  std::vector<Deciding> deciding(const Shown& shown, std::uint32_t option) const;

  std::size_t options() const { return options_; }

 private:
  std::vector<double> scores(const Shown& shown) const;

  std::size_t options_;
  std::map<std::string, std::vector<double>, std::less<>> expected_, weights_;  // by option
};

}  // namespace faultodds::wording
