// Shows the next open step once the last thing a step asks for is recorded.
import { isDone, nextOpenPage, pageOf } from "./pages.js";

const STEP = /^#\/job\/\d+\/(step|row)\//;
const STILL_MS = 450; // a second tap of a glove must not land on the page that came up

let came; // { to, from } of the last time a page was left because it was done

export const doneBefore = ({ view, step }) => isDone(view, pageOf(view, step));

// Goes on and says so, unless the page still asks for something that a person may want to add.
export function goOn(at) {
  const { view, step } = at;
  const page = pageOf(view, step);
  if (!STEP.test(location.hash) || !isDone(view, page) || asksMore(view, page, at)) return false;
  const next = nextOpenPage(view, page);
  if (!next) return false;
  const to = `#/job/${view.pk}/step/${next.steps[0].pk}`;
  came = { to, from: page };
  document.body.classList.add("page-still");
  setTimeout(() => document.body.classList.remove("page-still"), STILL_MS);
  location.hash = to;
  return true;
}

// What an office has to look at is left to the person, as are optional fields that come after the one just
// recorded; those before it were passed by.
function asksMore(view, page, { step, spec }) {
  if (page.steps.some((one) => view.deviations(one).length)) return true;
  const specs = view.fields(step);
  const after = specs.slice(specs.findIndex((one) => one.name === spec?.name) + 1);
  return after.some((one) => isLeftEmpty(view, step, one));
}

const isLeftEmpty = (view, step, spec) =>
  !spec.required &&
  !spec.required_if &&
  !spec.name.startsWith("not_here") &&
  !view.state(step).fields[spec.name]?.standing.length;

// Returns the page that was left for this one, until another is shown.
export function cameFrom() {
  if (came?.to !== location.hash) came = undefined;
  return came?.from;
}
