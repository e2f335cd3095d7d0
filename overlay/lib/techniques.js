/**
 * What the trade calls its holds: the names that an event's `technique`, `techniques`, `setup` and
 * `stopped_by` may have, and the words in which a person reads them. Plain data; nothing is refused
 * because it is missing here (docs/events.md: any name of small letters, digits and _ is accepted).
 *
 * Source: common practice of the trade, no printed source, but for the height of low, sweep and
 * high single and the leg that low and sweep single reach (coaching guides at sportmentary.com and
 * peninsulamma.com.au) and the points of one action (referee's guide, ringen-kampfrichter.info).
 * That Greco-Roman forbids holds below the waist and the active use of the legs decides `styles`.
 */

/**
 * @typedef {object} Technique
 * @property {string} slug the name in an event
 * @property {"tie"|"leg"|"upper"|"top"|"defence"} family tie: ties and set-ups, for `setup`; leg
 *   and upper: attacks from the feet; top: turns and lifts in par terre; defence: keyed for the
 *   defender
 * @property {readonly string[]} styles where it is allowed
 * @property {string} label as shown to a person, in running text
 * @property {"low"|"mid"|"high"} [height] leg attacks: low is heel to shin, mid the knee, high the
 *   thigh to the hip; the lower end where it varies (double leg: knee to hip)
 * @property {"lead"|"trail"|"either"|"both"} [reach] leg attacks: the opponent's leg that it
 *   reaches more easily in a staggered stance
 * @property {readonly number[]} points what it usually gives in the editions with values 1 2 4 5;
 *   empty: nothing by itself
 * @property {readonly string[]} follows what it is usually finished with, changed to or opens, as
 *   slugs; its own slug means "again". Some are not allowed in every style: look at their `styles`
 */

const ALL = Object.freeze(["freestyle", "women", "greco_roman"]);
const LEGS = Object.freeze(["freestyle", "women"]); // below the waist, or with one's own legs

const words = (text) => Object.freeze(text.split(" ").filter((word) => word !== ""));

/** @returns {Technique} */
function technique(family, slug, label, styles, points, follows, more = {}) {
  return Object.freeze({
    slug, family, styles, label, ...more, points: Object.freeze(points), follows: words(follows),
  });
}
const tie = (slug, label, opens) => technique("tie", slug, label, ALL, [], opens);
const leg = (slug, label, height, reach, points, follows) =>
  technique("leg", slug, label, LEGS, points, follows, { height, reach });
const upper = (slug, label, points, follows) =>
  technique("upper", slug, label, ALL, points, follows);
const top = (slug, label, styles, points, follows) =>
  technique("top", slug, label, styles, points, follows);
const defence = (slug, label, styles, points, follows) =>
  technique("defence", slug, label, styles, points, follows);

/** The catalogue, by family. The order within a family means nothing.
 *  @type {readonly Technique[]} */
export const TECHNIQUES = Object.freeze([
  tie("collar_tie", "collar tie", "snap_down front_headlock ankle_pick knee_tap duck_under"),
  tie("inside_tie", "inside tie", "sweep_single double_leg elbow_pass"),
  tie("underhook", "underhook", "high_single high_crotch knee_tap slide_by push_out"),
  tie("overhook", "overhook", "arm_throw lateral_drop head_and_arm"),
  tie("over_under", "over-under", "body_lock_throw lateral_drop bear_hug"),
  tie("two_on_one", "two-on-one", "high_single arm_drag firemans_carry arm_spin foot_sweep"),
  tie("wrist_control", "wrist control", "arm_drag low_single"),
  tie("elbow_pass", "elbow pass", "single_leg double_leg slide_by"),
  tie("body_lock", "body lock", "bear_hug salto body_lock_throw mat_return outside_trip"),
  tie("front_headlock", "front headlock", "go_behind headlock_roll ankle_pick"),
  tie("snap_down", "snap-down", "front_headlock go_behind low_single"),
  tie("head_pull", "head pull", "ankle_pick single_leg"),
  tie("arm_drag", "arm drag", "go_behind double_leg"),
  tie("slide_by", "slide-by", "go_behind single_leg"),
  tie("shrug", "shrug", "go_behind high_single"),
  tie("club", "club", "double_leg snap_down"),
  tie("fake", "fake", ""), // opens anything
  tie("level_change", "level change", ""), // opens any leg attack
  tie("pummel", "pummel", "underhook body_lock"),
  tie("circle", "circle", "sweep_single low_single"),
  tie("push_pull", "push and pull", "single_leg arm_throw push_out"),

  leg("single_leg", "single leg", "mid", "lead", [2], "double_leg"),
  leg("high_single", "high single", "high", "either", [2], "foot_sweep"),
  leg("low_single", "low single", "low", "lead", [2], "sweep_single double_leg"),
  leg("sweep_single", "sweep single", "mid", "lead", [2], "high_single double_leg"),
  leg("double_leg", "double leg", "mid", "both", [2], "single_leg outside_trip"),
  leg("high_crotch", "high crotch", "high", "either", [2], "double_leg firemans_carry go_behind"),
  leg("ankle_pick", "ankle pick", "low", "lead", [2], "knee_tap double_leg"),
  leg("knee_tap", "knee tap", "mid", "either", [2], "double_leg push_out"),
  leg("firemans_carry", "fireman's carry", "high", "lead", [2, 4], "high_crotch double_leg"),
  leg("outside_trip", "outside trip", "low", "lead", [2, 4], "bear_hug"),
  leg("inside_trip", "inside trip", "low", "lead", [2, 4], "bear_hug single_leg"),
  leg("leg_hook", "leg hook", "mid", "either", [2, 4], "head_and_arm"),
  leg("foot_sweep", "foot sweep", "low", "lead", [2], "single_leg go_behind"),
  leg("inner_thigh_throw", "inner thigh throw", "high", "either", [2, 4], "go_behind"),

  upper("duck_under", "duck under", [2], "go_behind mat_return suplex"),
  upper("go_behind", "go-behind", [2], "gut_wrench leg_lace"),
  upper("mat_return", "mat return", [2], "gut_wrench"),
  upper("arm_spin", "arm spin", [2, 4], ""),
  upper("arm_throw", "arm throw", [2, 4, 5], ""),
  upper("hip_toss", "hip toss", [2, 4, 5], "head_and_arm"),
  upper("head_and_arm", "head and arm", [2, 4], ""),
  upper("lateral_drop", "lateral drop", [2, 4], ""),
  upper("body_lock_throw", "body lock throw", [2, 4, 5], "gut_wrench"),
  upper("salto", "salto", [2, 4, 5], ""),
  upper("suplex", "suplex", [2, 4, 5], "gut_wrench"),
  upper("bear_hug", "bear hug", [2, 4], "inside_trip salto"),
  upper("push_out", "push-out", [1], ""),
  upper("headlock_roll", "headlock roll", [2, 4], ""),

  top("gut_wrench", "gut wrench", ALL, [2], "gut_wrench straight_lift"),
  top("trap_arm_gut", "trap-arm gut wrench", ALL, [2], "trap_arm_gut"),
  top("leg_lace", "leg lace", LEGS, [2], "leg_lace gut_wrench"),
  top("crotch_lift", "crotch lift", LEGS, [2, 4], "gut_wrench"),
  top("straight_lift", "straight lift", ALL, [2, 4, 5], "gut_wrench"),
  top("reverse_lift", "reverse lift", ALL, [2, 4, 5], "gut_wrench"),
  top("side_lift", "side lift", ALL, [2, 4, 5], "gut_wrench"),
  top("half_nelson", "half nelson", ALL, [2], "three_quarter_nelson arm_bar cradle turk"),
  top("three_quarter_nelson", "three-quarter nelson", ALL, [2], "half_nelson arm_bar cradle turk"),
  top("arm_bar", "arm bar", ALL, [2], "half_nelson three_quarter_nelson cradle turk"),
  top("cradle", "cradle", LEGS, [2], "half_nelson three_quarter_nelson arm_bar turk"),
  top("turk", "turk", LEGS, [2], "half_nelson three_quarter_nelson arm_bar cradle"),

  defence("sprawl", "sprawl", ALL, [], "front_headlock go_behind re_attack"),
  defence("down_block", "down block", ALL, [], "front_headlock go_behind re_attack"),
  defence("crossface", "crossface", ALL, [], "front_headlock go_behind re_attack"),
  defence("hip_in", "hip in", LEGS, [], "front_headlock go_behind re_attack"),
  defence("whizzer", "whizzer", LEGS, [], "inner_thigh_throw go_behind"),
  defence("limp_leg", "limp leg", LEGS, [], "re_attack"),
  defence("chest_wrap", "chest wrap", ALL, [2], ""),
  defence("throw_block", "throw block", ALL, [2], ""),
  defence("flatten_out", "flatten out", ALL, [], ""),
  defence("hips_down", "hips down", ALL, [], ""),
  defence("step_over", "step over", ALL, [2], "reversal"),
  defence("counter_turn", "counter turn", ALL, [2], "reversal"),
  defence("reversal", "reversal", ALL, [1], "gut_wrench"),
  defence("stand_up", "stand-up", ALL, [], "reversal"),
  defence("sit_out", "sit-out", ALL, [], "reversal"),
  defence("switch", "switch", ALL, [], "reversal"),
  defence("bridge", "bridge", ALL, [], ""),
  defence("peek_out", "peek out", ALL, [], "go_behind"),
  defence("circle_out", "circle out", ALL, [], ""),
  defence("scramble", "scramble", ALL, [], ""), // nobody in control: leads to anything
  defence("re_attack", "re-attack", ALL, [], ""), // with any technique
]);

/** The reasons of a caution that the editions name under `usual_points`, and their words.
 *  Source: UWW, 27 Jan 2022, and Deutscher Ringer-Bund, early 2022.
 *  @type {Readonly<Record<string, string>>} */
export const CAUTION_REASONS = Object.freeze({
  fleeing_hold: "fleeing the hold",
  fleeing_mat: "fleeing the mat",
  fleeing_in_danger: "fleeing the mat in danger",
  illegal_hold: "illegal hold",
  brutality: "brutality",
});
