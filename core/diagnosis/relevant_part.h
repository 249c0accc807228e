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

// Null where the part is most of the circuit, which then serves itself. Made on first use and kept
// with the model.
std::shared_ptr<const Model> relevant_part(const Model& model, const CaseNumbers& numbers,
                                           std::span<const RepairItem> items);

// The evidence and as many of `tests`, the first before the others, as a tree of their own fits in
// memory with; for models that have none for the whole circuit. Null where not even the evidence
// does.
std::shared_ptr<const Model> part_with_tree(const Model& model, const CaseNumbers& numbers,
                                            std::span<const std::uint32_t> tests);

}  // namespace faultodds::diagnosis
