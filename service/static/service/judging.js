// Judges each value of a visit as service/engineering/judging.py does, rule by rule and name by name,
// from the numbers of #visit-physics (service/engineering/visit_physics.py). A browser test feeds
// a grid of values to both. `values` are internal units by field, null where not taken.
"use strict";

const visitJudging = (() => {
  const JUDGED = [
    "ambient_c", "return_air_c", "supply_air_c", "suction_kpa", "discharge_kpa", "suction_line_c",
    "liquid_line_c", "rest_v", "rest_h", "load_v", "load_a", "battery_c",
  ];
  const OUTPUTS = ["low", "mid", "high"];
  const PAIRS = {
    "lift_expected depression_expected": "as_expected",
    "lift_low depression_high": "low_refrigerant",
    "lift_high depression_expected": "condenser_air",
    "lift_expected depression_high": "restriction",
    "lift_high depression_high": "both_high",
    "lift_high depression_low": "overcharge",
    "lift_low depression_low": "not_pumping",
    "lift_low depression_expected": "lift_low",
    "lift_expected depression_low": "depression_low",
  };
  const SINGLE = [
    "hoses_swapped", "pressures_equal", "standing", "too_cold", "resistance_high", "rest_low",
  ];
  const BUBBLE = 1;
  const DEW = 2;

  const asExpected = (code) => ({ verdict: "as_expected", code });
  const outOfBand = (code) => ({ verdict: "out_of_band", code });
  const cannotBe = (code) => ({ verdict: "cannot_be", code });
  const notJudged = (code) => ({ verdict: "not_judged", code });

  // The judgement of each value that can be judged: {field: {verdict, code}}, in a visit's order.
  function judge(values, physics) {
    const taken = JUDGED.filter((name) => Number.isFinite(values[name]));
    const meant = taken.filter((name) => within(physics, name, values[name]));
    const read = Object.fromEntries(meant.map((name) => [name, values[name]]));
    const seen = look(read, OUTPUTS.includes(values.output) ? values.output : null, physics);
    const judged = {};
    for (const name of taken) {
      const judgement = name in read ? RULES[name]?.(seen) : cannotBe("misread");
      if (judgement) judged[name] = judgement;
    }
    return judged;
  }

  // What the judged values mean together, as codes, the most telling first.
  function advise(judged) {
    const codes = Object.values(judged).map((judgement) => judgement.code);
    const told = SINGLE.filter((code) => codes.includes(code));
    let pair = PAIRS[`${judged.discharge_kpa?.code} ${judged.suction_kpa?.code}`];
    const subcooling = judged.liquid_line_c?.code;
    if (pair === "restriction" && subcooling === "subcooling_low") pair = "low_refrigerant";
    else if (pair === "low_refrigerant" && subcooling === "subcooling_high") pair = "restriction";
    return pair ? [pair, ...told] : told;
  }

  function isDoubtful(judged) {
    return Object.values(judged).some(({ verdict }) => ["out_of_band", "cannot_be"].includes(verdict));
  }

  function look(read, output, physics) {
    const { suction_kpa: suction, discharge_kpa: discharge } = read;
    const condensing = discharge === undefined ? undefined : celsius(physics, discharge, BUBBLE);
    const evaporating = suction === undefined ? undefined : celsius(physics, suction, DEW);
    const feature = {
      lift_k: less(condensing, read.ambient_c),
      depression_k: less(read.return_air_c, evaporating),
      superheat_k: less(read.suction_line_c, evaporating),
      subcooling_k: less(condensing, read.liquid_line_c),
      air_drop_k: less(read.return_air_c, read.supply_air_c),
    };
    let ratio = null;
    if (output && suction !== undefined && discharge !== undefined && suction + physics.air_kpa > 0) {
      ratio = (discharge + physics.air_kpa) / (suction + physics.air_kpa);
    }
    const swapped = ratio !== null && ratio < physics.limits.swapped;
    return { read, output, physics, feature, ratio, swapped };
  }

  // Saturation temperature at a gauge pressure, °C, linear in ln P; NaN off the table.
  function celsius(physics, gaugeKpa, column) {
    const { curve } = physics;
    const kpa = gaugeKpa + physics.air_kpa;
    if (!(kpa >= curve[0][column] && kpa <= curve.at(-1)[column])) return NaN;
    const above = Math.max(1, curve.findIndex((row) => row[column] >= kpa));
    const [low, high] = [curve[above - 1], curve[above]];
    const share = Math.log(kpa / low[column]) / Math.log(high[column] / low[column]);
    return low[0] + share * (high[0] - low[0]);
  }

  const pressure = (feature, name, other) => (seen) => {
    if (!seen.output) return notJudged("standing");
    if (seen.swapped) return cannotBe("hoses_swapped");
    if (seen.ratio !== null && seen.ratio < seen.physics.limits.equal) return outOfBand("pressures_equal");
    return difference(seen, feature, name, other);
  };

  const pipe = (feature, name, other) => (seen) => {
    if (!seen.output) return notJudged("standing");
    if (seen.swapped) return notJudged(`needs_${other}`);
    return difference(seen, feature, name, other);
  };

  function difference(seen, feature, name, other) {
    const value = seen.feature[feature];
    if (value === null) return notJudged(`needs_${other}`);
    if (!Number.isFinite(value) || !within(seen.physics, feature, value)) return cannotBe(`${name}_cannot_be`);
    if (seen.read.ambient_c < seen.physics.limits.cold_c) return notJudged("too_cold");
    return banded(value, seen.physics.bands[seen.output][feature], name);
  }

  function supplyAir(seen) {
    return seen.output ? difference(seen, "air_drop_k", "air_drop", "return_air_c") : null;
  }

  function restV({ read, physics }) {
    if (read.load_v > read.rest_v + physics.limits.meter_v) return cannotBe("load_above_rest");
    if (read.rest_h === undefined) return notJudged("needs_rest_h");
    if (read.rest_h < physics.limits.min_rest_h) return notJudged("not_rested");
    return banded(read.rest_v, physics.rest_v, "rest");
  }

  function loadV({ read, physics }) {
    if (read.rest_v === undefined) return notJudged("needs_rest_v");
    const sagV = read.rest_v - read.load_v;
    if (sagV < -physics.limits.meter_v) return cannotBe("load_above_rest");
    if (!(read.load_a >= physics.limits.least_load_a)) return notJudged("needs_load_a");
    const mohm = (1000 * sagV) / read.load_a;
    if (!within(physics, "resistance_mohm", mohm)) return cannotBe("resistance_cannot_be");
    return banded(Math.max(mohm, 0), physics.resistance_mohm, "resistance");
  }

  function loadA({ read, output, physics }) {
    const band = output && physics.bands[output].load_a;
    return band ? banded(read.load_a, band, "draw") : null;
  }

  const RULES = {
    supply_air_c: supplyAir,
    suction_kpa: pressure("depression_k", "depression", "return_air_c"),
    discharge_kpa: pressure("lift_k", "lift", "ambient_c"),
    suction_line_c: pipe("superheat_k", "superheat", "suction_kpa"),
    liquid_line_c: pipe("subcooling_k", "subcooling", "discharge_kpa"),
    rest_v: restV,
    load_v: loadV,
    load_a: loadA,
  };

  function banded(value, [low, high], name) {
    if (value < low) return outOfBand(`${name}_low`);
    if (value > high) return outOfBand(`${name}_high`);
    return asExpected(`${name}_expected`);
  }

  function within(physics, name, value) {
    const limits = physics.possible[name];
    return !limits || (limits[0] <= value && value <= limits[1]);
  }

  function less(value, other) {
    return value === undefined || other === undefined ? null : value - other;
  }

  return { JUDGED, judge, advise, isDoubtful };
})();
