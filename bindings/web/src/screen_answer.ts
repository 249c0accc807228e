/** Whole answers, of a page's own assessor or kept by an older element, in the form of those for a screen. */
import type { Assessment, Test } from "./documents.js";

interface WithCautions {
  cautions?: string[];
  caution_ids?: string[];
}

/** Nothing is lost: cautions that have no id are referred to by their text. */
export function screenAnswer(answer: Assessment): Assessment {
  if (answer.further_cautions) return answer;
  const texts: Record<string, string> = {};
  const referring = <T extends WithCautions>(of: T): T & { caution_ids: string[] } => {
    const ids = (of.cautions ?? []).filter((text) => !answer.cautions.includes(text));
    for (const text of ids) Object.defineProperty(texts, text, { value: text, enumerable: true });
    return { ...of, caution_ids: ids };
  };
  const tests = answer.tests.map((test) => ({ ...referring(test), steps: test.steps ?? [], afterwards: test.afterwards ?? [] }) as Test);
  return {
    ...answer,
    causes: answer.causes ?? [],
    tests: tests.slice(0, 3),
    further_tests: tests.slice(3),
    ...(answer.advice ? { advice: { ...answer.advice, verify: answer.advice.verify.map(referring) } } : {}),
    further_cautions: texts,
  };
}
