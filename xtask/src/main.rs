//! The project's commands: `cargo xtask demo` and `cargo xtask test` are the two to know.
//!
//! Our verbs stand in front of the bundler's (`bundle`, `bundle-universal`).

#![expect(clippy::print_stdout, reason = "a command speaks on the terminal")]

mod demo;
mod install;
mod licences;
mod peers;
mod quality;
mod run;
mod system;
mod tidy;

use anyhow::{Result, bail};

const HELP: &str = "\
cargo xtask VERB

  demo        build, bundle, play a demo take through the bundled plugin; results in target/demo/
  test        formatting, lints, docs, licences, tests in both feature states
  check       the quick part of `test`: formatting and lints
  bundle achala --release   both plugin bundles into target/bundled/
  install     copy the bundles to your plugin folders
  bundled     the real window of the bundled plugin in a virtual display: keys, a take, sizes (Linux)
  pictures    every face of the window as PNG into target/pictures/
  peers FOLDER              ours beside general f0 libraries on a folder of clips (minutes); target/peers/peers.md
  licences    the licence of every dependency against deny.toml
  tidy        the house rules that a compiler does not check";

fn main() -> Result<()> {
    run::to_workspace_root()?;
    let mut args = std::env::args().skip(1);
    let verb = args.next().unwrap_or_default();
    let rest: Vec<String> = args.collect();
    match verb.as_str() {
        "demo" => demo::demo(),
        "pictures" => demo::pictures(),
        "test" => quality::test(),
        "bundled" => quality::bundled(),
        "check" => quality::check(),
        "install" => install::install(),
        "peers" => peers::peers(&rest),
        "licences" => licences::licences(),
        "tidy" => tidy::tidy(),
        "bundle" | "bundle-universal" => {
            system::packages()?;
            nice_plug_xtask::main_with_args("cargo xtask", std::iter::once(verb).chain(rest))
        }
        "" | "help" | "--help" | "-h" => {
            println!("{HELP}");
            Ok(())
        }
        other => bail!("there is no verb '{other}'.\n\n{HELP}"),
    }
}
