// The part of a model that a decision about some repair items needs: the evidence, and the tests
// that look at an item. Other observations of the circuit lose their minimal sets, so that the
// inference tables are those of the part; indices stay as they are. It decides nothing.
#pragma once

#include <memory>
#include <span>

#include "core/diagnosis/evidence.h"
#include "core/diagnosis/model.h"
#include "core/diagnosis/repair_items.h"

namespace faultodds::diagnosis {

// The model whose tree knows of what the case tells that operators report, and of no other such
// report; null where the model serves by itself. Kept with the model.
std::shared_ptr<const Model> with_reports(const Model& model, const Case& the_case);

// Null where the part is most of the circuit, which then serves itself, and where neither has a
// tree that is propagated quickly. Made on first use and kept with the model.
std::shared_ptr<const Model> relevant_part(const Model& model, const CaseNumbers& numbers,
                                           std::span<const RepairItem> items);

}  // namespace faultodds::diagnosis
