// Runs the Khronos glTF validator over GLB files.
//
//   node validate_glb.mjs FOLDER_WITH_NODE_MODULES FILE.glb…
//
// FOLDER_WITH_NODE_MODULES is where `npm install gltf-validator` was run. Prints one line per file; exit code 1
// if any file has an error or a warning, 2 if a file cannot be read.
import { readFile } from "node:fs/promises";
import { createRequire } from "node:module";
import { join, resolve } from "node:path";

const [folder, ...files] = process.argv.slice(2);
if (!folder || files.length === 0) {
  console.error("usage: node validate_glb.mjs FOLDER_WITH_NODE_MODULES FILE.glb...");
  process.exit(2);
}
const validator = createRequire(join(resolve(folder), "package.json"))("gltf-validator");

let bad = false;
for (const file of files) {
  const report = await validator.validateBytes(new Uint8Array(await readFile(file)), { uri: file });
  const { numErrors, numWarnings, numInfos, numHints, messages } = report.issues;
  console.log(
    `${file}: ${numErrors} errors, ${numWarnings} warnings, ${numInfos} infos, ${numHints} hints; ` +
      `${report.info.totalTriangleCount} triangles; glTF ${report.info.version}, validator ${report.validatorVersion}`,
  );
  if (numErrors > 0 || numWarnings > 0) {
    bad = true;
    for (const m of messages.slice(0, 20)) console.error(`  ${m.code} ${m.pointer ?? ""}: ${m.message}`);
  }
}
process.exit(bad ? 1 : 0);
