//! Everything that goes wrong outdoors, one thing after another.

use crate::rehearsal::boards;
use crate::rehearsal::orchard::larkfield;
use crate::rehearsal::place::Place;
use crate::rehearsal::scenario::{MORNING, Scenario};
use crate::rehearsal::script::{Event, Script};
use crate::rehearsal::world::WorldParams;
use crate::wire::{GearSource, SurveyorRecord};

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
    let mut long = b"echo n=1 text=\"".to_vec();
    long.resize(900, b'x');
    long.push(b'\n');
    script
        .mark("rubbish from here")
        .happen_in(1.0, Event::NodePrints(vec![0xFF, 0x00, 0xC3, 0x28, 0x1B, 0x07, b'\n']))
        .happen_in(
            2.0,
            Event::NodePrints(
                b"note text=\"\x1b[2J\x1b]0;gone\x07 \xE2\x80\xAE back to front, \\\"quoted\\\"\"\n".to_vec(),
            ),
        )
        .happen_in(3.0, Event::NodePrints(long))
        .happen_in(
            4.0,
            Event::NodePrints(b"heap 41872 free, 3 tasks\r\n\r\n\t \n".to_vec()),
        )
        .happen_in(
            5.0,
            Event::NodePrints(b"echo n=12 here=-71 oops\necho here=-60\nlost n=-4\n".to_vec()),
        )
        .happen_in(
            6.0,
            Event::NodePrints(b"echo n=9999999999 here=-71 there=-72\n".to_vec()),
        )
        .happen_in(7.0, Event::NodePrints(b"{\"echo\":{\"n\":\n".to_vec()))
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
        .happen_in(1.9, Event::HalfLine)
        .happen_in(2.1, Event::Unplug(GearSource::Node))
        .happen_in(17.1, Event::Replug(GearSource::Node))
        .stand(4.0)
}

fn the_board_restarts_at_a_point(script: Script) -> Script {
    script
        .point("P1", 150)
        .happen(Event::PowerOff)
        .stand(0.4)
        .happen(Event::PowerOn(0))
        .stand(1.6)
        .press(SurveyorRecord::Again)
        .shuffle(15.7)
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
