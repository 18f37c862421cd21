//! Everything that goes wrong outdoors, one thing after another.

use crate::rehearsal::boards;
use crate::rehearsal::orchard::larkfield;
use crate::rehearsal::place::Place;
use crate::rehearsal::scenario::{MORNING, Scenario};
use crate::rehearsal::script::{Event, Script};
use crate::rehearsal::world::WorldParams;
use crate::wire::{GearSource, NodeRecord, SurveyorRecord, node};

/// The scenario `trouble`.
pub fn scene() -> Scenario {
    let script = Script::begin(Place::new(6.0, 1.0))
        .happen(Event::FixLost(3.5))
        .stand(6.0)
        .walking()
        .walk(Place::new(30.0, 6.0));
    let script = the_line_fills_with_rubbish(script).walk(Place::new(55.0, 12.0));
    let script = the_fix_goes(script).walk(Place::new(95.0, 18.0));
    let script = the_node_comes_loose(script).walk(Place::new(110.0, 18.0));
    let script = the_board_restarts_at_a_point(script)
        .walking()
        .walk(Place::new(70.0, 12.0));
    let script = the_station_falls_silent(script).walk(Place::new(40.0, 6.0));
    let script = the_receiver_comes_loose(script);
    Scenario {
        name: "trouble",
        story: "gear unplugged, fix lost, a restart, a silent station and rubbish on the line",
        site: larkfield(),
        params: WorldParams::larkfield(),
        boards: vec![boards::thistle(), boards::yew()],
        script: script.walk(Place::new(12.0, 2.0)).finish(),
        begins: MORNING,
    }
}

fn the_line_fills_with_rubbish(script: Script) -> Script {
    let note = NodeRecord::Note {
        text: "\u{1b}[2J\u{1b}]0;gone\u{7} \u{202e}back to front, \"quoted\"".to_owned(),
    };
    let leap = boards::thistle().echo(9_999_999, -71, -72, 3000, 9_999_999);
    let mut long = b"echo n=1 text=\"".to_vec();
    long.resize(900, b'x');
    long.push(b'\n');
    let prints = |line: &str| Event::NodePrints(format!("{line}\n").into_bytes());
    script
        .mark("rubbish from here")
        .happen_in(1.0, Event::NodePrints(vec![0xFF, 0x00, 0xC3, 0x28, 0x1B, 0x07, b'\n']))
        .happen_in(2.0, prints(&node::line(&note, true)))
        .happen_in(3.0, Event::NodePrints(long))
        .happen_in(4.0, prints("heap 41872 free, 3 tasks\r\n\r\n\t "))
        .happen_in(5.0, prints("echo n=12 here=-71 oops\necho here=-60\nlost n=-4"))
        .happen_in(6.0, prints(&node::line(&leap, true)))
        .happen_in(7.0, prints("{\"echo\":{\"n\":"))
        .happen_in(
            8.0,
            Event::ReceiverPrints(b"\xB5\x62\x01\x07\x00$GNGGA,12\r\n$$$\r\n".to_vec()),
        )
        .stand(2.0)
}

fn the_fix_goes(script: Script) -> Script {
    let now = script.seconds();
    script
        .mark("under the tin roof of the cart shed")
        .happen_in(1.5, Event::DamagedSentence)
        .happen_in(3.2, Event::Outlier(310.0, -120.0))
        .happen_in(8.0, Event::FixLost(now + 28.0))
        .stand(3.0)
}

fn the_node_comes_loose(script: Script) -> Script {
    // The board has its own battery: it goes on counting while its cable is out.
    script
        .happen_in(2.0, Event::TearsOff)
        .happen_in(17.0, Event::Replug(GearSource::Node))
        .stand(4.0)
}

fn the_board_restarts_at_a_point(script: Script) -> Script {
    script
        .stand(3.0)
        .face_station()
        .press(SurveyorRecord::Point {
            name: Some("P1".to_owned()),
            messages: Some(100),
        })
        .shuffle(6.0)
        .happen(Event::PowerOff)
        .happen_in(0.4, Event::PowerOn(0))
        .shuffle(2.5)
        .press(SurveyorRecord::Again)
        .shuffle(10.7)
}

fn the_station_falls_silent(script: Script) -> Script {
    let now = script.seconds();
    script
        .happen_in(1.0, Event::StationSilent(now + 13.0))
        .stand(5.0)
        .press(SurveyorRecord::Pause)
        .stand(10.0)
        .mark("somebody tripped over the station's cable")
        .press(SurveyorRecord::Resume)
}

fn the_receiver_comes_loose(script: Script) -> Script {
    script
        .happen_in(1.3, Event::Unplug(GearSource::Gps))
        .happen_in(9.0, Event::Replug(GearSource::Gps))
        .stand(3.0)
        .swap(1)
        .press(SurveyorRecord::Resume)
}
