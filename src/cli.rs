//! Every flag and its help: effect, unit, default.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};

/// Walk a radio link outdoors: where can a node go, which way must it face, and how sure is that?
///
/// Without a command: the full screen, to begin a survey, go on with the last one, replay one, rehearse on invented
/// gear, or look at the gear that is plugged in.
#[derive(Debug, Parser)]
#[command(name = "farpace", version, propagate_version = true, disable_help_subcommand = true)]
pub struct Cli {
    /// What to do; without it, the full screen with its menu.
    #[command(subcommand)]
    pub command: Option<Command>,

    /// Where surveys are kept, a folder each [default: farpace in your home folder].
    #[arg(long, global = true, value_name = "FOLDER", env = "FARPACE_SURVEYS")]
    pub surveys: Option<PathBuf>,

    /// How the screen is coloured [default: dark; plain where `NO_COLOR` is set].
    #[arg(long, global = true, value_enum)]
    pub theme: Option<ThemeWord>,
}

/// How the screen is coloured.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum ThemeWord {
    /// Light letters on dark, for shade and night.
    Dark,
    /// Dark letters on light, for bright sun.
    Light,
    /// No colours: shapes, bold and reversed letters only.
    Plain,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Make a survey: read the node and the GPS, and walk.
    Walk(WalkArgs),
    /// Make a survey on invented gear in an invented orchard.
    Rehearse(RehearseArgs),
    /// List the serial ports and what each says.
    Gear(GearArgs),
    /// Before going out: link budget, expected range, clearance.
    Plan(PlanArgs),
    /// Play a saved survey back on the full screen.
    Replay(ReplayArgs),
    /// Make samples.csv and points.csv anew from the journal and the set-up.
    Rebuild(FolderArgs),
    /// Print every number the tool can give of one or more surveys.
    Figures(FiguresArgs),
    /// Write a survey up.
    Report(ReportArgs),
    /// Hand a survey to other programs.
    Export(ExportArgs),
    /// Print a script that completes this command's words in your shell.
    #[command(hide = true)]
    Completions {
        /// Which shell.
        shell: clap_complete::Shell,
    },
}

/// How a survey is made.
#[derive(Debug, Default, Args)]
pub struct WalkArgs {
    /// Where the node's lines come from: `serial:/dev/ttyACM0`, `tcp:HOST:PORT`, `udp:HOST:PORT`, `file:PATH`, `-`
    /// or `auto` [default: the set-up's, else auto].
    #[arg(long, value_name = "ADDR")]
    pub node: Option<String>,
    /// Where the positions come from: the same forms, or `gpsd:HOST:PORT` [default: the set-up's, else auto].
    #[arg(long, value_name = "ADDR")]
    pub gps: Option<String>,
    /// Position of the station in decimal degrees, south and west negative, such as 52.10000,-2.90000.
    #[arg(long, value_name = "LAT,LON", allow_hyphen_values = true)]
    pub station: Option<String>,
    /// A survey.toml to begin with.
    #[arg(long, value_name = "FILE")]
    pub set_up: Option<PathBuf>,
    /// The survey's folder itself [default: a new one named by date, time and title].
    #[arg(long, value_name = "FOLDER")]
    pub out: Option<PathBuf>,
    /// What the survey is called.
    #[arg(long, value_name = "T")]
    pub title: Option<String>,
    /// Log without a screen until the sources end or a signal says stop; the files are finished then.
    #[arg(long)]
    pub no_screen: bool,
    /// Where surveyor records come from as lines, in the same forms as --node.
    #[arg(long, value_name = "ADDR")]
    pub surveyor: Option<String>,
    /// Go on with the survey in --out instead of beginning one.
    #[arg(long, requires = "out")]
    pub go_on: bool,
}

/// How a rehearsal is made.
#[derive(Debug, Args)]
pub struct RehearseArgs {
    /// Which story to play; `list` names them.
    #[arg(long, value_name = "NAME", default_value = "walk")]
    pub scenario: String,
    /// Which world: the same number gives the same lines.
    #[arg(long, value_name = "N", default_value_t = 1, allow_negative_numbers = true)]
    pub seed: u64,
    /// How many times faster than life.
    #[arg(long, value_name = "X", default_value_t = 1.0, allow_negative_numbers = true)]
    pub speed: f64,
    /// Play without a screen.
    #[arg(long)]
    pub no_screen: bool,
    /// The survey's folder itself [default: a new one named by date, time and scenario].
    #[arg(long, value_name = "FOLDER")]
    pub out: Option<PathBuf>,
}

/// How the gear is listed.
#[derive(Debug, Args)]
pub struct GearArgs {
    /// Print JSON.
    #[arg(long)]
    pub json: bool,
}

/// What to plan for.
#[derive(Debug, Args)]
pub struct PlanArgs {
    /// Height of the station's aerial above the ground, metres [default: 3].
    #[arg(long, value_name = "M", allow_negative_numbers = true)]
    pub station_height: Option<f64>,
    /// Height of the node above the ground, metres [default: 1.2].
    #[arg(long, value_name = "M", allow_negative_numbers = true)]
    pub node_height: Option<f64>,
    /// Transmit power of both ends, dBm; check your local rules [default: 15].
    #[arg(long, value_name = "DBM", allow_negative_numbers = true)]
    pub power: Option<f64>,
    /// Transmit power of the station where it differs, dBm.
    #[arg(long, value_name = "DBM", allow_negative_numbers = true)]
    pub station_power: Option<f64>,
    /// Gain of the station's aerial towards the node, dBi [default: 0].
    #[arg(long, value_name = "DBI", allow_negative_numbers = true)]
    pub station_gain: Option<f64>,
    /// Gain of the node's aerial towards the station, dBi [default: 0].
    #[arg(long, value_name = "DBI", allow_negative_numbers = true)]
    pub node_gain: Option<f64>,
    /// The radio: 802.11, 802.15.4 or ble [default: 802.11].
    #[arg(long, value_name = "WORD")]
    pub radio: Option<String>,
    /// Channel in the radio's own plan [default: 6, or the radio's first].
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    pub channel: Option<u32>,
    /// The frequency itself, MHz [default: the channel's].
    #[arg(long, value_name = "MHZ", allow_negative_numbers = true)]
    pub mhz: Option<f64>,
    /// Flat open ground with nothing beside the path [default: hedges, trees and sheds beside it].
    #[arg(long)]
    pub open: bool,
    /// Trees on the way: where they begin and how deep they are, metres from the station, such as 40:25.
    #[arg(long, value_name = "FROM:DEPTH")]
    pub trees: Option<String>,
    /// An edge to pass over: where it stands and how high it is, metres, such as 60:4.
    #[arg(long, value_name = "FROM:HEIGHT")]
    pub edge: Option<String>,
    /// What a wall or roof in the way takes, dB [default: 0].
    #[arg(long, value_name = "DB", allow_negative_numbers = true)]
    pub wall: Option<f64>,
    /// The level at which the board still delivers 90 %, dBm, as measured on a walk [default: worked out from noise].
    #[arg(long, value_name = "DBM", allow_negative_numbers = true)]
    pub need: Option<f64>,
    /// Delivery a place must give, 0 to 1 [default: 0.95].
    #[arg(long, value_name = "SHARE", allow_negative_numbers = true)]
    pub delivery: Option<f64>,
    /// Margin a place must have, dB [default: 10].
    #[arg(long, value_name = "DB", allow_negative_numbers = true)]
    pub margin: Option<f64>,
    /// Distance at which budget and clearance are shown, metres [default: where half of the places still do].
    #[arg(long, value_name = "M", allow_negative_numbers = true)]
    pub at: Option<f64>,
    /// How far the table goes, metres [default: 1000].
    #[arg(long, value_name = "M", allow_negative_numbers = true)]
    pub farthest: Option<f64>,
    /// Print JSON.
    #[arg(long)]
    pub json: bool,
}

/// A survey's folder.
#[derive(Debug, Args)]
pub struct FolderArgs {
    /// The survey's folder.
    pub folder: PathBuf,
}

/// How a survey is played back.
#[derive(Debug, Args)]
pub struct ReplayArgs {
    /// The survey's folder; of several, all are shown side by side and compared.
    #[arg(required = true, value_name = "FOLDER")]
    pub folders: Vec<PathBuf>,
    /// How many times faster than life, 1 to 500.
    #[arg(long, value_name = "X", default_value_t = 1.0, allow_negative_numbers = true)]
    pub speed: f64,
}

/// For which node places are told; each difference from the one walked with is an assumption and named as one.
#[derive(Clone, Debug, Default, Args)]
pub struct AssumeArgs {
    /// Places for this board instead of the one walked with, by the difference measured at points.
    #[arg(long, value_name = "NAME")]
    pub board: Option<String>,
    /// Places for a node mounted so many metres above the ground.
    #[arg(long, value_name = "M", allow_negative_numbers = true)]
    pub mounted: Option<f64>,
    /// Places with so many dB more loss, for leaves that are not out yet.
    #[arg(long, value_name = "DB", allow_negative_numbers = true)]
    pub leaves: Option<f64>,
}

/// What figures to print.
#[derive(Debug, Args)]
#[expect(clippy::struct_excessive_bools, reason = "each is a flag of its own")]
pub struct FiguresArgs {
    /// The surveys' folders.
    #[arg(required = true, value_name = "FOLDER")]
    pub folders: Vec<PathBuf>,
    /// Print JSON instead of a table.
    #[arg(long)]
    pub json: bool,
    /// Use what this computer has learned of the boards in other surveys, too.
    #[arg(long)]
    pub with_known: bool,
    /// Give metres east and north of the station instead of coordinates.
    #[arg(long)]
    pub private: bool,
    /// With --private: leave out title, notes, and the names people gave to places, too.
    #[arg(long, requires = "private")]
    pub no_words: bool,
    /// What places assume.
    #[command(flatten)]
    pub assume: AssumeArgs,
}

/// How a survey is written up.
#[derive(Debug, Args)]
pub struct ReportArgs {
    /// The surveys' folders.
    #[arg(required = true, value_name = "FOLDER")]
    pub folders: Vec<PathBuf>,
    /// Where to write it.
    #[arg(long, value_name = "FOLDER")]
    pub out: PathBuf,
    /// Give metres east and north of the station instead of coordinates.
    #[arg(long)]
    pub private: bool,
    /// With --private: leave out title, notes, and the names people gave to places, too.
    #[arg(long, requires = "private")]
    pub no_words: bool,
    /// What places assume.
    #[command(flatten)]
    pub assume: AssumeArgs,
    /// Write over a report that is there.
    #[arg(long)]
    pub force: bool,
}

/// How a survey is handed on.
#[derive(Debug, Args)]
pub struct ExportArgs {
    /// The survey's folder.
    pub folder: PathBuf,
    /// In which form.
    #[arg(long = "as", value_enum, value_name = "FORMAT")]
    pub form: ExportForm,
    /// The file to write; `-` for standard output.
    #[arg(long, value_name = "FILE")]
    pub out: PathBuf,
    /// Give metres east and north of the station instead of coordinates.
    #[arg(long)]
    pub private: bool,
    /// With --private: leave out title, notes, and the names people gave to places, too.
    #[arg(long, requires = "private")]
    pub no_words: bool,
    /// What places assume.
    #[command(flatten)]
    pub assume: AssumeArgs,
    /// Write over a file that is there.
    #[arg(long)]
    pub force: bool,
}

/// The forms of an export.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum ExportForm {
    /// For maps and GIS (RFC 7946): station, exchanges, points, places and spots with their figures.
    Geojson,
    /// For receivers and map programs (GPX 1.1): points, spots and the track.
    Gpx,
    /// For globes (KML 2.2): the same.
    Kml,
    /// For spreadsheets and GIS: the same in one table.
    Csv,
}
