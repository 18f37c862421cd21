//! `farpace plan`: before going out.

use std::io::{IsTerminal as _, Write as _};

use anyhow::Context as _;

use super::run::wrong_usage;
use crate::cli::PlanArgs;
use crate::findings::plan::inputs::{Edge, Ground, Receiver, Trees};
use crate::findings::plan::{self, PlanInputs};
use crate::link::ChannelPlan;
use crate::units::{Db, Dbm, Megahertz, Metres};

/// Prints the plan, as a page or as JSON.
///
/// # Errors
/// When the words give no plan: in words that say what to give instead.
pub fn plan(args: &PlanArgs) -> anyhow::Result<()> {
    let inputs = inputs(args).map_err(wrong_usage)?;
    let plan = plan::plan(&inputs).map_err(|problem| wrong_usage(problem.into()))?;
    let mut out = std::io::stdout().lock();
    if args.json {
        writeln!(out, "{}", serde_json::to_string_pretty(&plan)?)?;
    } else {
        let columns = std::io::stdout()
            .is_terminal()
            .then(crossterm::terminal::size)
            .and_then(Result::ok);
        let width = columns.map_or(80, |(width, _)| usize::from(width).clamp(64, 120));
        writeln!(out, "{}", plan::render(&plan, width))?;
    }
    Ok(())
}

fn inputs(args: &PlanArgs) -> anyhow::Result<PlanInputs> {
    let mut inputs = PlanInputs::default();
    let set = |given: Option<f64>, into: &mut f64| {
        if let Some(given) = given {
            *into = given;
        }
    };
    set(args.station_height, &mut inputs.station.height_m.0);
    set(args.node_height, &mut inputs.node.height_m.0);
    set(args.power, &mut inputs.station.tx_dbm.0);
    set(args.power, &mut inputs.node.tx_dbm.0);
    set(args.station_power, &mut inputs.station.tx_dbm.0);
    set(args.station_gain, &mut inputs.station.gain_dbi.0);
    set(args.node_gain, &mut inputs.node.gain_dbi.0);
    set(args.wall, &mut inputs.through_db.0);
    set(args.farthest, &mut inputs.farthest_m.0);
    set(args.delivery, &mut inputs.goal.delivery);
    set(args.margin, &mut inputs.goal.margin_db.0);
    if let Some(radio) = &args.radio {
        inputs.radio = ChannelPlan::named(radio)?;
        inputs.channel = inputs.radio.numbers().0;
    }
    if let Some(channel) = args.channel {
        inputs.channel = channel;
    }
    inputs.mhz = args.mhz.map(Megahertz);
    inputs.at_m = args.at.map(Metres);
    if args.open {
        inputs.ground = Ground::Flat;
    }
    if let Some(trees) = &args.trees {
        let (from, depth) = pair(trees, "--trees FROM:DEPTH in metres, such as 40:25")?;
        inputs.trees = Some(Trees {
            from_station_m: Metres(from),
            depth_m: Metres(depth),
            db_per_m: None,
            most_db: None,
        });
    }
    if let Some(edge) = &args.edge {
        let (from, height) = pair(edge, "--edge FROM:HEIGHT in metres, such as 60:4")?;
        inputs.edge = Some(Edge {
            from_station_m: Metres(from),
            height_m: Metres(height),
        });
    }
    if let Some(level) = args.need {
        inputs.receiver = Receiver::Stated {
            level90_dbm: Dbm(level),
        };
    }
    inputs.through_db = Db(inputs.through_db.0);
    Ok(inputs)
}

fn pair(text: &str, help: &'static str) -> anyhow::Result<(f64, f64)> {
    let (first, second) = text.split_once(':').context(help)?;
    Ok((
        first.trim().parse().context(help)?,
        second.trim().parse().context(help)?,
    ))
}
