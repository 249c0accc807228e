#!/usr/bin/env python3
"""Writes what the bindings declare of the C interface, from its headers, which are its only description, and of the documents
that it answers, from capi/documents/answers.json:

    bindings/python/faultodds/_declarations.py                structs and signatures for ctypes
    bindings/node/src/declarations.ts                         structs and prototypes for koffi, and their types
    bindings/java/src/main/java/faultodds/Declarations.java   structs, callbacks and native methods for JNA
    bindings/csharp/Faultodds/Declarations.cs                 structs, callbacks and delegates for P/Invoke
    bindings/wasm/exports.txt, src/exports.ts                 what the module exports, of what src/ calls
    bindings/node/src/answers.ts                              types of answers, of the module's binding and the panel too
    bindings/java/.../Assessment.java, Plan.java              records of answers
    bindings/csharp/Faultodds/Answers.cs                      classes of answers
    bindings/http/openapi.json                                the schemas of answers, its last

usage: declare.py [--check]     --check writes nothing and fails where a file is not what would be written.
"""
import pathlib
import sys

from declarations import (answers, csharp_answers, for_csharp, for_java, for_node, for_python, for_wasm, headers, java_answers,
                          openapi_answers, typescript_answers)

BINDINGS = pathlib.Path(__file__).resolve().parent


def main():
    interface = headers.read(BINDINGS.parent / "capi")
    sources = sorted(p for p in (BINDINGS / "wasm/src").glob("*.ts") if p.name != "exports.ts")
    exported, constants = for_wasm.named(interface, sources)
    answered = answers.read(BINDINGS.parent)
    java = "java/src/main/java/faultodds/"
    assessment, plan = java_answers.write(answered)
    files = {"python/faultodds/_declarations.py": for_python.write(interface),
             "node/src/declarations.ts": for_node.write(interface),
             java + "Declarations.java": for_java.write(interface),
             "csharp/Faultodds/Declarations.cs": for_csharp.write(interface),
             "csharp/Faultodds/Answers.cs": csharp_answers.write(answered),
             "node/src/answers.ts": typescript_answers.write(answered),
             java + "Assessment.java": assessment,
             java + "Plan.java": plan,
             "wasm/exports.txt": for_wasm.exports(exported),
             "wasm/src/exports.ts": for_wasm.write(interface, exported, constants),
             "http/openapi.json": openapi_answers.write((BINDINGS / "http/openapi.json").read_text(encoding="utf-8"), BINDINGS.parent,
                                                        answered.kinds)}
    stale = []
    for name, text in files.items():
        path = BINDINGS / name
        if "--check" in sys.argv[1:]:
            if not path.exists() or path.read_text(encoding="utf-8") != text:
                stale.append(name)
        else:
            path.write_text(text, encoding="utf-8")
    if stale:
        sys.exit(f"not as the headers and answers.json say: {', '.join(stale)}; run bindings/declare.py")


if __name__ == "__main__":
    main()
