#include "core/diagnosis/preparation.h"

#include <algorithm>
#include <string_view>

#include "core/circuit/kinds.h"
#include "core/diagnosis/program.h"
#include "core/number_text.h"

namespace faultodds::diagnosis {
namespace {

// What is not said of a fitting fits any.
bool fits(const FittingAtHand& have, const circuit::Bring& need) {
  return have.what == need.what && (have.standard.empty() || have.standard == need.standard) &&
         (have.size.empty() || have.size == need.size);
}

bool opens(const circuit::Observation& observation) {
  return std::any_of(observation.setup.begin(), observation.setup.end(),
                     [](const std::string& step) {
                       return step.starts_with("line/") || step.starts_with("cartridge/") ||
                              step.starts_with("meter/");
                     });
}

}  // namespace

bool is_at_hand(const circuit::Component& component, const Work& work) {
  return std::any_of(work.parts.begin(), work.parts.end(), [&](const std::string& part) {
    return part == component.id || part == component.type;
  });
}

Preparation::Preparation(const Model& model, const Case& the_case)
    : model_(model),
      analysis_(model.analysis()),
      case_(the_case),
      of_circuit_(analysis_.setup_steps.size()) {
  const Work& work = case_.work;
  if (work.fittings) own_.push_back({kFetch, work.fetch_minutes});
  if (work.people == 1 && work.second_person_minutes) {
    own_.push_back({kSecondPerson, *work.second_person_minutes});
  }
  if (work.block_load_minutes) own_.push_back({kBlockLoad, *work.block_load_minutes});
  done_.assign(steps(), false);
  for (const std::string& id : case_.setup_done) {
    if (const auto step = model.find_setup(id)) done_[*step] = true;
    for (std::size_t i = 0; i < own_.size(); ++i) {
      if (own_[i].id == id) done_[of_circuit_ + i] = true;
    }
  }
}

const circuit::SetupStep& Preparation::step(std::uint32_t i) const {
  return i < of_circuit_ ? analysis_.setup_steps[i] : own_[i - of_circuit_];
}

std::vector<std::uint32_t> Preparation::of(std::uint32_t observation) const {
  const circuit::Observation& test = analysis_.observations[observation];
  std::vector<std::uint32_t> list;
  for (std::uint32_t i = 0; i < own_.size(); ++i) {
    const std::string_view id = own_[i].id;
    if ((id == kFetch && !has_all_fittings(test)) || (id == kSecondPerson && test.people > 1) ||
        (id == kBlockLoad && opens(test))) {
      list.push_back(static_cast<std::uint32_t>(of_circuit_) + i);
    }
  }
  const std::vector<std::uint32_t>& circuits = model_.program().setup(observation);
  list.insert(list.end(), circuits.begin(), circuits.end());
  return list;
}

bool Preparation::has_all_fittings(const circuit::Observation& observation) const {
  const auto& have = case_.work.fittings;
  if (!have) return true;
  return std::all_of(observation.bring.begin(), observation.bring.end(), [&](const auto& need) {
    return std::any_of(have->begin(), have->end(),
                       [&](const FittingAtHand& one) { return fits(one, need); });
  });
}

bool Preparation::knows(const std::string& id) const {
  return model_.find_setup(id) ||
         std::any_of(own_.begin(), own_.end(), [&](const auto& step) { return step.id == id; });
}

double Preparation::minutes(std::uint32_t observation, const std::vector<bool>& done) const {
  double minutes = analysis_.observations[observation].perform_minutes;
  const auto add = [&](const std::vector<std::uint32_t>& list) {
    for (const std::uint32_t i : list) {
      if (!done[i]) minutes += step(i).minutes;
    }
  };
  if (own_.empty()) {
    add(model_.program().setup(observation));
  } else {
    add(of(observation));
  }
  return minutes;
}

bool Preparation::may_propose(std::uint32_t observation) const {
  const circuit::Observation& asked = analysis_.observations[observation];
  return !asked.withheld && !circuit::is_reported(asked) && case_.can_make(observation) &&
         !refused(observation);
}

std::optional<NotProposed> Preparation::refused(std::uint32_t observation) const {
  const Work& work = case_.work;
  if (analysis_.observations[observation].people > 1 && work.people == 1 &&
      !work.second_person_minutes) {
    return NotProposed{observation, NotProposed::Reason::people, Message{"not_proposed.people"}};
  }
  if (work.ready_within_minutes) {
    const double takes = minutes(observation, done_);
    if (takes > *work.ready_within_minutes) {
      Message why{"not_proposed.time"};
      why.with("takes", MessageValue::Kind::minutes, takes);
      why.with("within", MessageValue::Kind::minutes, *work.ready_within_minutes);
      return NotProposed{observation, NotProposed::Reason::time, std::move(why)};
    }
  }
  return std::nullopt;
}

}  // namespace faultodds::diagnosis
