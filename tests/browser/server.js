// Starts the program on a free port over a store of its own, and stops it.

import { spawn } from "node:child_process";
import { mkdtemp, rm } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";

const root = fileURLToPath(new URL("../..", import.meta.url));

/** `OPALWRIGHT` names another binary than the one that `cargo build` leaves. */
const binary = process.env.OPALWRIGHT ?? join(root, "target/debug/opalwright");

export async function startServer() {
  const folder = await mkdtemp(join(tmpdir(), "opalwright-browser-"));
  const args = process.env.OPALWRIGHT_ARGS?.split(" ") ?? ["--store", join(folder, "bench.db"), "serve", "--address", "127.0.0.1:0"];
  const program = spawn(binary, args, { stdio: ["ignore", "pipe", "pipe"] });
  const said = { out: "", err: "" };
  program.stderr.on("data", (text) => { said.err += text; });
  const address = await new Promise((resolve, reject) => {
    const late = setTimeout(() => reject(new Error(`no address within 60 s; it said: ${said.out}${said.err}`)), 60_000);
    program.on("error", reject);
    program.on("exit", (code) => reject(new Error(`it ended with ${code}; it said: ${said.out}${said.err}`)));
    program.stdout.on("data", (text) => {
      said.out += text;
      const found = /http:\/\/127\.0\.0\.1:\d+/.exec(said.out);
      if (found) { clearTimeout(late); resolve(found[0]); }
    });
  });
  return {
    address,
    pid: program.pid,
    stop: async () => {
      const ended = new Promise((resolve) => program.on("exit", resolve));
      program.kill("SIGINT");
      const late = setTimeout(() => program.kill("SIGKILL"), 8_000);
      await ended;
      clearTimeout(late);
      await rm(folder, { recursive: true, force: true });
    },
  };
}
