// Builds dist/: the catalogues of capi/words/ as modules, the sources compiled, and index.js with what it imports in one
// file. Every other language is a file of its own that is loaded when it is asked for.
import { execFileSync } from "node:child_process";
import { existsSync, mkdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { build } from "esbuild";

process.chdir(fileURLToPath(new URL(".", import.meta.url)));
const words = ["words", "../../capi/words"].find(existsSync);
mkdirSync("src/catalogues", { recursive: true });
for (const language of ["en", "de", "es", "fr", "ar"]) {
  // Of notes the library itself is the writer.
  const all = Object.entries(JSON.parse(readFileSync(`${words}/${language}.json`, "utf8")));
  const text = JSON.stringify(Object.fromEntries(all.filter(([id]) => !/^(note|read)\./.test(id))));
  writeFileSync(`src/catalogues/${language}.ts`, `const messages: Record<string, string> = ${text};\nexport default messages;\n`);
}
rmSync("dist", { recursive: true, force: true });
execFileSync("node_modules/.bin/tsc", ["-p", "."], { stdio: "inherit" });
await build({
  entryPoints: ["dist/index.js"], outdir: "dist", allowOverwrite: true, bundle: true, splitting: true, format: "esm",
  target: "es2022", minify: true, chunkNames: "part-[hash]", logLevel: "warning",
});
