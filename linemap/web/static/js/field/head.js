// A head: the little of a structure that lists, distances and refusals need, so that ten thousand fit in memory.

const done = (step) => (step.done ? "*" : (step.parts_done ?? []).join("+") || step.poles_done);

/** What stops steps at the structure of a card: which, by whose record it ends, the sentence. */
const stopsOf = (card) => card.look_first.filter(({ stops }) => stops?.length).map(({ stops, values, in_the_way }) => ({ stops, placed: values.placed ?? [], words: in_the_way }));

/** The head of a card: who it is, where it stands, what is recorded, what is in the way. */
function headOf(card) {
  const { number, mile, longitude, latitude, station, region, left_to_right, stage } = card;
  const { holds, tickets, shortages, claims, not_built, pole_words, wrong } = card;
  return { number, mile, longitude, latitude, station, region, left_to_right, stage, holds, tickets, shortages, claims, not_built, pole_words, wrong, stops: stopsOf(card), did: card.steps.map(done).join(","), guys: card.steps.find(({ per }) => per === "guy")?.parts ?? [], punch: (card.punch ?? []).filter(({ open }) => open).map(({ sentence }) => sentence) };
}

/** How often each crew recorded each step of some cards: {crew: {step: times}}. */
function workOf(structures) {
  const crews = {};
  for (const { steps } of structures) {
    for (const { code, crew } of steps) {
      if (!crew) continue;
      crews[crew] ??= {};
      crews[crew][code] = (crews[crew][code] ?? 0) + 1;
    }
  }
  return crews;
}

/** The steps of a head, as a card has them; `rules` are those of the workflow, in their order. */
function stepsOfHead(head, rules) {
  const did = head.did.split(",");
  return rules.map(({ code, words, per }, place) => {
    const begun = did[place] === "*" ? "" : (did[place] ?? "");
    const parts = per === "guy" ? (head.guys ?? []) : [];
    const parts_done = did[place] === "*" ? parts : parts.length ? begun.split("+").filter(Boolean) : [];
    return { code, words, per, done: did[place] === "*", poles_done: parts.length ? "" : begun, parts, parts_done, when: "", crew: "", missing: [] };
  });
}

export { headOf, stopsOf, workOf, stepsOfHead };
