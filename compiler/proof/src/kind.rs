//! What an obligation is about, in three phrases each.

/// Three phrases: what holds, what goes wrong, and a name for it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Phrases {
    /// "the cutter stays on its side of the wall"
    pub success: &'static str,
    /// "the cutter passes the wall": worded for the machinist
    pub failure: &'static str,
    /// "wall"
    pub short: &'static str,
}

macro_rules! kinds {
    ($($(#[$doc:meta])* $kind:ident: $success:literal, $failure:literal, $short:literal;)*) => {
        /// What kind of thing must hold.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub enum Kind {
            $($(#[$doc])* $kind,)*
        }

        impl Kind {
            /// Every kind.
            pub const ALL: &[Self] = &[$(Self::$kind),*];

            /// The three phrases.
            #[must_use]
            pub fn phrases(self) -> Phrases {
                match self {
                    $(Self::$kind => Phrases { success: $success, failure: $failure, short: $short },)*
                }
            }
        }
    };
}

kinds! {
    /// Some values meet all requirements.
    Witness:
        "some values meet all requirements",
        "no values meet all requirements: nobody could ever use this",
        "requirements";
    /// A default lies in its parameter's range.
    Default:
        "the default always lies in its range",
        "the default can fall outside its own range",
        "default";
    /// A divisor is never zero.
    Divisor:
        "the divisor is never zero",
        "this divides by zero",
        "divisor";
    /// A root, an arc cosine or a tangent has a value.
    Domain:
        "this always has a value",
        "this has no value",
        "value";
    /// Both ends of an arc are equally far from its centre.
    ArcRadii:
        "both ends of the arc are equally far from its centre",
        "the arc's ends are not equally far from its centre",
        "arc";
    /// An arc is not smaller than controllers accept.
    ArcSize:
        "the arc is large enough for a controller",
        "the arc is too small for a controller",
        "arc size";
    /// A loop comes to its end.
    Ends:
        "the loop comes to its end",
        "the loop never ends",
        "end of loop";
    /// A cutting move has a feed, above zero.
    Feed:
        "the move has a feed",
        "the cutter moves in the work without a feed",
        "feed";
    /// The position is known where it must be.
    Entry:
        "the position is known before it matters",
        "the cutter moves from a position that nobody knows",
        "position";
    /// A rapid move goes through air only.
    Rapid:
        "the rapid move goes through air only",
        "the rapid move can run into metal",
        "rapid move";
    /// No straight plunge into solid.
    Plunge:
        "the cutter never plunges into solid",
        "the cutter plunges straight down into solid metal",
        "plunge";
    /// No ramp steeper than the cutter may go.
    Ramp:
        "no ramp is steeper than the cutter may go",
        "the ramp is steeper than the cutter may go",
        "ramp";
    /// No cut deeper than the flutes.
    Flutes:
        "no cut is deeper than the flutes",
        "the cut is deeper than the flutes are long",
        "flutes";
    /// Shank and holder stay above the metal.
    Shank:
        "shank and holder stay above the metal",
        "the shank or the holder goes into the hole",
        "shank";
    /// The cutter stays on its side of the wall.
    Wall:
        "the cutter stays on its side of the wall",
        "the cutter passes the wall",
        "wall";
    /// The cutter stays above the floor.
    Floor:
        "the cutter stays above the floor",
        "the cutter goes below the floor",
        "floor";
    /// A full turn runs exactly on the wall.
    Contact:
        "a full turn runs exactly on the wall",
        "no full turn runs on the wall: the wall is not brought to size",
        "turn on the wall";
    /// The last pass lands on the floor.
    Landing:
        "the last pass lands exactly on the floor",
        "the last pass does not land on the floor",
        "last pass";
    /// Passes meet: nothing is left between one and the next.
    Meeting:
        "each pass meets the one before",
        "a pass is deeper than the flutes: a band is left between it and the one before",
        "passes meet";
    /// Nothing is left standing between pilot and wall.
    Standing:
        "nothing is left standing",
        "metal is left standing between one way round and the next",
        "nothing left standing";
    /// No pin stays under the dead centre.
    Pin:
        "no pin is left under the dead centre",
        "a pin is left in the middle, under the cutter's dead centre",
        "no pin";
    /// Tangent joints on the wall.
    Joint:
        "the path meets and leaves the wall on one tangent",
        "the axes stop and turn on the wall: this leaves a mark",
        "tangent joint";
    /// No stop on the wall.
    Dwell:
        "nothing stops while the edge is on the wall",
        "the cutter stands still on the wall: this leaves a mark",
        "no stop on the wall";
    /// The side the chip forms on.
    Side:
        "the chip forms on the promised side",
        "the cutter goes round the wall the wrong way",
        "side of the chip";
    /// The teeth of a thread cutter follow the thread.
    Lead:
        "wherever the teeth bite, the path keeps the thread's lead",
        "the teeth bite where the path does not keep the thread's lead: the flanks are spoilt",
        "lead";
    /// Turns of a thread cutter cut the thread over its whole depth.
    Turns:
        "full turns cut the thread from its floor to its top face",
        "the thread is not cut over its whole depth",
        "turns of the thread";
    /// The teeth of a thread cutter fit the thread.
    Teeth:
        "the teeth of the cutter fit the thread",
        "the teeth of the cutter do not fit the thread",
        "teeth";
    /// The cone of a pointed cutter fits the chamfer.
    Cone:
        "the cone of the cutter fits the chamfer",
        "the cone of the cutter does not fit the chamfer",
        "cone";
    /// The disc of a cutter and its neck go where a groove, or the bore, has room for them.
    Disc:
        "disc and neck of the cutter have room in groove and bore",
        "the disc or the neck of the cutter runs into the wall of the bore",
        "disc";
    /// A feature has metal to remove: its floor lies below its top, and its walls lie in their order.
    Feature:
        "the feature is a volume that can be made",
        "nobody can make this feature",
        "feature";
    /// A wall between features.
    Web:
        "the wall between features is thick enough",
        "the wall between two features is too thin",
        "wall between features";
    /// A face is milled before what lies below it.
    Order:
        "the face is milled before what lies below it",
        "what lies below the face is made before it, or from higher than the face left the work",
        "face first";
    /// An argument lies in the range of the called routine's parameter.
    Argument:
        "the argument lies in the called routine's range",
        "the argument is out of the called routine's range",
        "argument";
    /// A requirement of the called routine.
    Requirement:
        "the called routine's requirement is met",
        "the called routine refuses these values",
        "requirement";
    /// What the called routine demands of the cutter.
    Cutter:
        "the cutter is what the called routine demands",
        "the cutter is not what the called routine demands",
        "cutter";
    /// The hole that a called routine starts from.
    Pilot:
        "the hole that the call starts from is there",
        "the hole that the call starts from is not there yet",
        "pilot";
    /// What a called routine makes lies within what its caller makes.
    Inside:
        "what the call removes lies within the feature",
        "the call removes metal outside the feature",
        "call within feature";
    /// A promise is kept by the calls and moves together.
    Kept:
        "the calls and moves together keep the promise",
        "the calls and moves together do not keep the promise",
        "promise";
    /// The spindle turns, the right way, before the first cut.
    Spindle:
        "the spindle turns the right way before the first cut",
        "the cutter meets metal with the spindle stopped or turning the wrong way",
        "spindle";
    /// Travel between places is high enough.
    Travel:
        "travel between places is high enough",
        "the cutter travels too low between places",
        "travel height";
    /// Nothing stops with the cutter in the work.
    Stop:
        "the program stops with the cutter clear of the work",
        "the program stops with a cutter in the work",
        "stop";
    /// A tool of the list is a possible tool.
    Tool:
        "the tool is possible",
        "there is no such tool",
        "tool";
    /// A text raises no alarm at sizes that are admitted.
    Admitted:
        "the text runs at every admitted size",
        "the text raises an alarm at an admitted size",
        "admitted size";
    /// A text raises an alarm, before anything moves, at sizes that are not admitted.
    Refused:
        "the text refuses every size that is not admitted, before anything moves",
        "the text moves at a size that is not admitted",
        "refused size";
    /// A text gives an argument that is left out the default of the motion.
    SameDefault:
        "an argument that is left out gets its default",
        "an argument that is left out gets another value than its default",
        "default in the text";
    /// A text moves as its motion does.
    SameMove:
        "the text moves as the motion does",
        "the text moves otherwise than the motion",
        "move of the text";
    /// A loop of a text turns as often as that of its motion.
    SameCount:
        "the loop of the text turns as often as that of the motion",
        "the loop of the text turns more or less often than that of the motion",
        "turns of the text";
    /// Spindle, coolant, tool and offsets of a text are those of its motion.
    SameState:
        "spindle, coolant, tool and offsets of the text are those of the motion",
        "spindle, coolant, tool or offsets of the text are not those of the motion",
        "state in the text";
    /// A text leaves modes and variables as it found them.
    LeftAlone:
        "the text leaves modes and variables of its caller as it found them",
        "the text leaves a mode or a variable of its caller changed",
        "modes of the caller";
    /// The controller has a value for everything that a text works out.
    Computable:
        "the controller has a value for everything that the text works out",
        "the controller stops with a fault of its own in the text",
        "value in the text";
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn phrases_are_told_apart_and_end_without_full_stop() {
        let mut seen = std::collections::BTreeSet::new();
        for kind in Kind::ALL {
            let p = kind.phrases();
            for text in [p.success, p.failure, p.short] {
                assert!(!text.ends_with('.') && text.starts_with(char::is_lowercase), "{text}");
            }
            assert!(seen.insert(p.short) && seen.insert(p.success) && seen.insert(p.failure), "{kind:?}");
        }
    }
}
