//! One module for each verb.

mod backup;
mod bid;
mod demo;
mod demo_bench;
pub(crate) mod disclose;
pub(crate) mod drying;
mod export;
pub(crate) mod finish;
pub(crate) mod identify;
mod import;
mod interior;
pub(crate) mod kept;
mod learned;
pub(crate) mod ledger;
pub(crate) mod log;
pub(crate) mod now;
mod output;
pub(crate) mod parcel;
mod plan;
pub(crate) mod price;
mod price_book;
mod restore;
pub(crate) mod saw_or_grind;
pub(crate) mod scale_card;
mod serve;
mod sheet;
mod show;
pub(crate) mod study;
mod take_in;
pub(crate) mod trace;
pub(crate) mod weigh;
pub(crate) mod wheels;

pub(crate) use ledger::entries_csv;
pub(crate) use output::file_stem;

use crate::args::{Args, Command};
use crate::exit::Failure;

/// Runs the command.
pub(crate) fn run(args: &Args) -> Result<(), Failure> {
    match &args.command {
        Command::TakeIn(command) => take_in::run(args, command),
        Command::ScaleCard(command) => scale_card::run(command),
        Command::Trace(command) => trace::run(command),
        Command::Show(command) => show::run(args, command),
        Command::Interior(command) => interior::run(args, command),
        Command::Plan(command) => plan::run(args, command),
        Command::Bid(command) => bid::run(args, command),
        Command::Parcel(command) => parcel::run(args, command),
        Command::Learned(command) => learned::run(args, command),
        Command::Log(command) => log::run(args, command),
        Command::Now(command) => now::run(args, command),
        Command::Finish(command) => finish::run(args, command),
        Command::Wheels(command) => wheels::run(args, command),
        Command::SawOrGrind(command) => saw_or_grind::run(args, command),
        Command::Drying(command) => drying::run(args, command),
        Command::Weigh(command) => weigh::run(command),
        Command::Identify(command) => identify::run(args, command),
        Command::Disclose(command) => disclose::run(args, command),
        Command::Ledger(command) => ledger::run(args, command),
        Command::Kept(command) => kept::run(args, command),
        Command::Sheet(command) => sheet::run(args, command),
        Command::Price(command) => price::run(args, command),
        Command::PriceBook(command) => price_book::run(args, command),
        Command::Export(command) => export::run(args, command),
        Command::Import(command) => import::run(args, command),
        Command::Backup(command) => backup::run(args, command),
        Command::Restore(command) => restore::run(args, command),
        Command::Study(command) => study::run(args, command),
        Command::Serve(command) => serve::run(args, command),
        Command::Demo(command) => demo::run(args, command),
    }
}
