#include "core/diagnosis/said.h"

#include <cstring>
#include <utility>

namespace faultodds::diagnosis {
namespace {

template <typename Number>
void append(std::string& key, Number number) {
  char bytes[sizeof number];
  std::memcpy(bytes, &number, sizeof number);
  key.append(bytes, sizeof number);
}

// Equal for two entries of one observation exactly when they say the same.
std::string key_of(const Evidence& entry) {
  std::string key;
  append(key, entry.repairs_before);
  if (entry.outcome) {
    key += 'o';
    append(key, *entry.outcome);
  } else if (entry.likelihood) {
    key += 'l';
    for (const double weight : *entry.likelihood) append(key, weight + 0.0);  // -0 is 0
  } else if (entry.reading) {
    key += 'r';
    const reading::Reading& r = *entry.reading;
    for (const std::optional<double>* part : {&r.leak_rate,
                                              &r.pressure_drop,
                                              &r.time,
                                              &r.volume,
                                              &r.bulk_modulus,
                                              &r.supply_flow,
                                              &r.distance,
                                              &r.speed,
                                              &r.flow,
                                              &r.rated_flow,
                                              &r.below,
                                              &r.pressure,
                                              &r.exponent,
                                              &r.temperature_change,
                                              &r.line_stiffness,
                                              &r.gas_volume,
                                              &r.gas_pressure,
                                              &r.strokes_per_minute,
                                              &r.stroke_volume,
                                              &r.back_pressure,
                                              &r.revolutions_per_minute,
                                              &r.displacement,
                                              &r.oil_temperature}) {
      key += part->has_value() ? '1' : '0';
      if (*part) append(key, **part + 0.0);
    }
    for (const auto& point : r.pressures) {
      append(key, point.time + 0.0);
      append(key, point.pressure + 0.0);
    }
    for (const auto& point : r.distances) {
      append(key, point.time + 0.0);
      append(key, point.distance + 0.0);
    }
  }
  return key + entry.at;
}

}  // namespace

void Said::add(Case& to, Evidence entry) {
  if (!entry.again && !by_observation_[entry.observation].insert(key_of(entry)).second) {
    ++to.said_before[entry.observation];
    return;
  }
  to.evidence.push_back(std::move(entry));
}

void Said::forget(Case& of, std::uint32_t observation) {
  by_observation_.erase(observation);
  of.said_before.erase(observation);
}

Messages said_before_warnings(const circuit::Analysis& analysis, const Case& the_case) {
  Messages warnings;
  for (const auto& [observation, times] : the_case.said_before) {
    Message warning{"warning.said_before"};
    warning.with("test", MessageValue::observation(analysis.observations[observation].id));
    warnings.push_back(
        std::move(warning.with("times", MessageValue::Kind::count, static_cast<double>(times))));
  }
  return warnings;
}

}  // namespace faultodds::diagnosis
