/** Finds the shared library, and takes over what it gives away. */
import { existsSync } from "node:fs";
import { fileURLToPath } from "node:url";
import koffi from "koffi";
import { PROTOTYPES } from "./declarations.js";
import type { Functions, Handle, Out } from "./declarations.js";
import { FaultoddsError } from "./error.js";

const SOVERSION = 2;

// The path in the environment's FAULTODDS_LIBRARY, the package's lib folder, the system's loader. The first that
// applies is used; if it cannot be loaded, that is told.
function where(): string {
  const named = process.env["FAULTODDS_LIBRARY"];
  if (named) return named;
  const name =
    process.platform === "win32" ? `faultodds-${SOVERSION}.dll`
    : process.platform === "darwin" ? `libfaultodds.${SOVERSION}.dylib`
    : `libfaultodds.so.${SOVERSION}`;
  const inside = fileURLToPath(new URL(`../lib/${process.platform}-${process.arch}/${name}`, import.meta.url));
  return existsSync(inside) ? inside : name;
}

let loaded: Functions | undefined;

/** The library, loaded on first use. */
export function library(): Functions {
  if (loaded) return loaded;
  const path = where();
  let lib: ReturnType<typeof koffi.load>;
  try {
    lib = koffi.load(path);
  } catch (problem) {
    throw new Error(
      `the faultodds library could not be loaded from ${path}; set FAULTODDS_LIBRARY to its path`,
      { cause: problem },
    );
  }
  const functions: Record<string, unknown> = {};
  for (const prototype of PROTOTYPES) {
    functions[/faultodds_(\w+)\(/.exec(prototype)![1]!] = lib.func(prototype);
  }
  loaded = functions as unknown as Functions;
  return loaded;
}

// koffi's own stacks for calls on other threads are too small for a circuit of many components.
if (koffi.config()["async_stack_size"]! < 1 << 20) {
  koffi.config({ ...koffi.config(), async_stack_size: 1 << 20 });
}

/** Copies a string that the library gave away, and frees it. */
export function taken([owned]: Out<Handle>): string {
  try {
    return koffi.decode(owned, "char", -1) as string;
  } finally {
    library().free(owned);
  }
}

/** Throws what a status other than OK means; frees the library's error. */
export function check(status: number, [error]: Out<Handle>): void {
  if (status === 0) return;
  const lib = library();
  try {
    throw new FaultoddsError(lib.status_name(status), lib.error_message(error), lib.error_pointer(error));
  } finally {
    lib.error_free(error);
  }
}
