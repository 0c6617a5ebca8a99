// The roof workspace: joins tools, drawing, server and words. The layout lives in the store; all else shows
// it.

import { offerAutoLayout } from "./auto_layout.js";
import { askWhoseStays } from "./conflict.js";
import { Desk } from "./desk.js";
import { by } from "./dom.js";
import { ObstacleTool } from "./obstacles/tool.js";
import { PanelTool } from "./panels/tool.js";
import { photoTool } from "./photo/tool.js";
import { openShade } from "./shade/open.js";
import { showState } from "./side.js";
import { StringTool } from "./strings/tool.js";
import { Saver } from "./talk.js";
import { watchToolbar } from "./toolbar.js";
import { WireTool } from "./wires/tool.js";

const start = JSON.parse(by("workspace-start").textContent);
const desk = new Desk(start, document.querySelector(".ws"));
const { store, stage, place, live } = desk;
const saver = new Saver(place.dataset.save, store, showState, (got) =>
  askWhoseStays(got, store, () => saver.release()),
);

store.onChange(() => {
  desk.refresh();
  live.ask(store.layout, true);
  desk.askDetail();
  saver.soon();
});
desk.join("panels", new PanelTool(desk));
desk.join("things", new ObstacleTool(desk));
desk.join("wires", new WireTool(desk));
desk.join("photo", photoTool(desk));
desk.join("strings", new StringTool(desk));
watchToolbar(desk);
for (const choice of document.querySelectorAll("[name=ws-hand]")) {
  choice.checked = choice.value === "panels";
  choice.addEventListener("change", () => desk.use(choice.value));
}

offerAutoLayout(store, saver);
for (const id of ["ws-tools", "ws-below", "ws-side", "ws-hands", "ws-under"]) by(id).hidden = false;
Object.assign(by("ws-stage"), { tabIndex: 0, role: "application" });
by("ws-stage").setAttribute("aria-describedby", "ws-help");
openShade({ store, stage, parts: desk.parts, start });
addEventListener("offline", () => showState("offline"));
desk.use("panels");
if (location.hash === "#photo") by("ws-hand-photo").click();
desk.refresh();
live.ask(store.layout, store.isDirty);
desk.askDetail();
saver.soon(0);
