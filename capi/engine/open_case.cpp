#include "capi/engine/open_case.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "capi/documents/assessment_writer.h"
#include "capi/documents/case_reader.h"
#include "capi/documents/document.h"
#include "capi/documents/fields.h"
#include "capi/documents/json.h"
#include "capi/engine/questions.h"
#include "core/circuit/names.h"
#include "core/number_text.h"
#include "core/quoted_text.h"

namespace faultodds::engine {
namespace {

[[noreturn]] void refuse(const std::string& message) {
  throw Error(Code::invalid_argument, message);
}

}  // namespace

void OpenCase::check_observation(std::uint32_t observation) const {
  const std::size_t count = model_->model.analysis().observations.size();
  if (observation >= count) {
    refuse("observation is " + std::to_string(observation) + "; expected an index below " +
           std::to_string(count));
  }
}

// Where the next entry would stand in a case document.
std::string OpenCase::next_pointer() const { return "/observations/" + std::to_string(entries_); }

void OpenCase::add(diagnosis::Evidence evidence) {
  evidence.repairs_before = static_cast<std::uint32_t>(evidence_.repairs.size());
  evidence.pointer = next_pointer();
  said_.add(evidence_, std::move(evidence));
  ++entries_;
  assessment_.reset();
}

void OpenCase::observe_outcome(std::uint32_t observation, std::uint32_t outcome) {
  check_observation(observation);
  const std::size_t count = model_->model.analysis().observations[observation].outcomes.size();
  if (outcome >= count) {
    refuse("outcome is " + std::to_string(outcome) + "; expected an index below " +
           std::to_string(count));
  }
  diagnosis::Evidence evidence;
  evidence.observation = observation;
  evidence.outcome = outcome;
  add(std::move(evidence));
}

void OpenCase::observe_likelihood(std::uint32_t observation,
                                  const std::array<double, 3>& likelihood) {
  check_observation(observation);
  bool any = false;
  for (std::size_t grade = 0; grade < likelihood.size(); ++grade) {
    if (!std::isfinite(likelihood[grade]) || likelihood[grade] < 0) {
      refuse("likelihood[" + std::to_string(grade) + "] is " + fixed_text(likelihood[grade]) +
             "; expected a finite number, 0 or more");
    }
    any = any || likelihood[grade] > 0;
  }
  if (!any) refuse("likelihood is 0, 0, 0; expected at least one number above 0");
  diagnosis::Evidence evidence;
  evidence.observation = observation;
  evidence.likelihood = {likelihood[0], likelihood[1], likelihood[2]};
  add(std::move(evidence));
}

void OpenCase::observe(std::string_view entry) {
  const documents::Document document = documents::read_document(entry);
  const diagnosis::Model& model = model_->model;
  if (auto repair = documents::read_repair(document, documents::Place(), model)) {
    repair->pointer = next_pointer();
    evidence_.repairs.push_back(std::move(*repair));
    ++entries_;
    assessment_.reset();
    return;
  }
  if (auto one = documents::read_not_possible(document, documents::Place(), model)) {
    documents::add_not_possible(evidence_, std::move(*one));
    assessment_.reset();
    return;
  }
  add(documents::read_evidence(document, documents::Place(), model));
}

void OpenCase::retract(std::uint32_t observation) {
  check_observation(observation);
  const auto of_it = [&](const auto& entry) { return entry.observation == observation; };
  if (std::erase_if(evidence_.not_possible, of_it) > 0) assessment_.reset();
  if (std::erase_if(evidence_.evidence, of_it) == 0) return;
  said_.forget(evidence_, observation);
  entries_ = evidence_.evidence.size() + evidence_.repairs.size();
  std::size_t index = 0;
  for (diagnosis::Evidence& evidence : evidence_.evidence) {
    evidence.pointer = "/observations/" + std::to_string(index++ + evidence.repairs_before);
  }
  assessment_.reset();
}

void OpenCase::setup_done(std::string step) {
  if (!model_->model.find_setup(step)) {
    refuse("unknown setup step " + in_backticks(step) +
           documents::known_setup(step, model_->model));
  }
  evidence_.setup_done.push_back(std::move(step));
  assessment_.reset();
}

void OpenCase::assess() {
  assessment_.reset();
  assessment_ = diagnosis::assess(model_->model, evidence_);
}

std::string OpenCase::answer() const {
  diagnosis::Assessment assessment = *assessment_;
  diagnosis::explain(model_->model, evidence_, assessment);
  warn_of_said_before(model_->model, evidence_, assessment);
  const auto advice = advise(model_->model, evidence_, assessment);
  return documents::write_assessment(model_->model, assessment, {}, advice ? &*advice : nullptr);
}

std::vector<std::optional<Error>> assess_together(std::span<OpenCase* const> cases,
                                                  std::uint32_t threads) {
  std::vector<std::optional<Error>> wrong(cases.size());
  if (cases.empty()) return wrong;
  std::vector<const OpenCase*> distinct(cases.begin(), cases.end());
  std::sort(distinct.begin(), distinct.end());
  if (std::adjacent_find(distinct.begin(), distinct.end()) != distinct.end()) {
    refuse("one case occurs twice in cases; expected distinct cases");
  }
  std::vector<const diagnosis::Case*> evidence;
  for (std::size_t i = 0; i < cases.size(); ++i) {
    if (cases[i]->model_ != cases[0]->model_) {
      refuse("cases[" + std::to_string(i) + "] is of another model than cases[0]");
    }
    evidence.push_back(&cases[i]->evidence_);
  }
  for (OpenCase* one : cases) one->assessment_.reset();
  std::vector<diagnosis::Assessed> results(cases.size());
  diagnosis::assess_many(cases[0]->model_->model, evidence, results, threads);
  for (std::size_t i = 0; i < cases.size(); ++i) {
    if (results[i].error) {
      wrong[i] = std::move(results[i].error);
    } else {
      cases[i]->assessment_ = std::move(results[i].assessment);
    }
  }
  return wrong;
}

}  // namespace faultodds::engine
