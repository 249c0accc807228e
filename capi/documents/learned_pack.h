// A prior pack with all it rests on, as a document: the prior pack document "faultodds-priors/1"
// that the engine reads, with the key `learning` holding judgement, sources, settings and
// statistics. What is derived from them is written for people and for the engine, and computed anew
// when the document is read here; nothing derived is believed.
#pragma once

#include <string>

#include "capi/documents/json.h"
#include "priors/pack.h"
#include "priors/records.h"

namespace faultodds::documents {

// A document without `learning` is taken as judgement: each entry's grades worth so many jobs.
// Throws Error(invalid_document, invalid_priors) with a pointer into the document.
priors::PriorPack read_prior_pack(const Json& document, double worth_jobs = 20);

std::string write_prior_pack(const priors::PriorPack& pack);

// How an owner's CSV files are read: "faultodds-records/1".
struct RecordsMapping {
  priors::Mapping mapping;
  bool others_sound = true;  // where one mode is named, the component's others were found sound
};

RecordsMapping read_records_mapping(const Json& document);
// For a person to edit: a line for each member.
std::string write_records_mapping(const RecordsMapping& mapping, const std::string& title);

}  // namespace faultodds::documents
