// The step of the supports: joists, and joints over them.

import { tableFields } from "./fields.js";
import { onShown } from "./sitting.js";

const fields = document.getElementById("support-fields");
const JOISTS = [["spacing", "Joist spacing"], ["first", "First joist at"],
  ["measured_from", "From edge"], ["width", "Joist width"]];
const JOINTS = [["offset", "Between joints"], ["gap", "Gap at joints"]];

onShown(job => fields.replaceChildren(
  ...tableFields(job, "joists", JOISTS), ...tableFields(job, "joints", JOINTS)));
