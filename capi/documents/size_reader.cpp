#include "capi/documents/size_reader.h"
#include "capi/documents/shapes.h"

#include <string>

#include "core/circuit/kinds.h"
#include "core/hydraulics/flow_circuit.h"
#include "core/unit_factors.h"

namespace faultodds::documents {
namespace {

using circuit::ModeSize;
using circuit::SizeLaw;
using reading::Dimension;

constexpr double kPercent = 100, kMm = 1e3;  // in the units of SI
constexpr double kLeastSpread = 0.01, kMostSpread = 5;
// Of a spool whose dimensions are known: clearances differ by some 10 % between spools and leakage
// goes with their third power, and a spool lies anywhere between centred and touching, which is 1
// to 2.5 times the flow. Working judgement.
constexpr double kSpreadOfDimensions = 0.6;

// The median size of a spool land of these dimensions, and the spread that goes with them.
void read_dimensions(const Fields& fields, ModeSize::OfGrade& sound) {
  hydraulics::Annulus land;
  const auto length = [&](std::string_view key) {
    return quantity_of(fields.need(key), fields.at(key), Dimension::length) * kMm;
  };
  land.diameter = length("diameter");
  land.clearance = length("clearance");
  land.length = length("overlap");
  if (land.clearance > land.diameter / 20) {
    refuse(fields.at("clearance"),
           "`clearance` is " + shown(fields.need("clearance")) +
               "; expected a radial clearance of at most a twentieth of `diameter`, " +
               shown(fields.need("diameter")));
  }
  sound.median = hydraulics::annulus_size(land);
  sound.spread = kSpreadOfDimensions;
}

void read_grade(const Json& value, const Place& place, SizeLaw law, bool sound,
                ModeSize::OfGrade& of) {
  const Fields fields(value, place, shape("grade_size"));
  bool dimensions = false;
  for (const char* key : {"diameter", "clearance", "overlap"}) {
    if (!fields.has(key)) continue;
    dimensions = true;
    if (!sound || law != SizeLaw::laminar) {
      refuse(fields.at(key), "`" + std::string(key) +
                                 "` is given for a size that is not of a sound gap; expected it "
                                 "under `sound`, with `law` laminar");
    }
    if (fields.has("median")) {
      refuse(fields.at(key),
             "`" + std::string(key) + "` is given beside `median`; expected one or the other");
    }
  }
  if (dimensions) {
    read_dimensions(fields, of);
  } else if (fields.has("median") || !fields.has("spread")) {
    const bool loss = law == SizeLaw::loss;
    of.median = quantity_of(fields.need("median"), fields.at("median"),
                            loss ? Dimension::share : Dimension::flow) *
                (loss ? kPercent : kMlPerMinute);
  }
  of.spread = fields.number("spread", kLeastSpread, kMostSpread).value_or(of.spread);
}

}  // namespace

SizeLaw law_of(const Fields& fields) {
  return one_named(fields.need("law"), fields.at("law"),
                   std::array{SizeLaw::laminar, SizeLaw::orifice, SizeLaw::loss}, law_name);
}

std::string law_name(SizeLaw law) {
  switch (law) {
    case SizeLaw::laminar:
      return "laminar";
    case SizeLaw::orifice:
      return "orifice";
    case SizeLaw::loss:
      break;
  }
  return "loss";
}

ModeSize read_sizes(const Json& value, const Place& place, const ModeSize* otherwise) {
  const Fields fields(value, place, shape("sizes"));
  fields.text("source", "");
  if (!fields.has("law") && otherwise == nullptr) {
    refuse(place,
           "the key `law` is missing; expected one of laminar, orifice, loss, for the "
           "failure mode's type gives none");
  }
  const SizeLaw law = fields.has("law") ? law_of(fields) : otherwise->law;
  ModeSize size =
      otherwise != nullptr && otherwise->law == law ? *otherwise : circuit::default_size(law);
  const char* const grades[] = {"sound", "worn", "failed"};
  for (std::size_t grade = 0; grade < 3; ++grade) {
    const Json* of = fields.find(grades[grade]);
    if (of == nullptr) continue;
    if (grade == 0 && law == SizeLaw::loss) {
      refuse(fields.at("sound"),
             "`sound` is given for a `law` of loss; expected `worn` and `failed` only: a sound "
             "one takes nothing from the flow");
    }
    read_grade(*of, fields.at(grades[grade]), law, grade == 0, size.of_grade[grade]);
  }
  return size;
}

circuit::Load read_load(const Json& value, const Place& place) {
  const Fields fields(value, place, shape("load"));
  circuit::Load load;
  load.force = fields.quantity("force", Dimension::force);
  load.pressure = fields.quantity("pressure", Dimension::pressure);
  load.spread = fields.number("spread", kLeastSpread, kMostSpread).value_or(load.spread);
  if (fields.has("direction")) load.direction = fields.text("direction");
  return load;
}

}  // namespace faultodds::documents
